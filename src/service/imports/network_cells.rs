//! How the cells of the data network and of supplied cables are read.

use serde_json::{Map, Value, json};

use super::cells::{self, length, parts, word};
use crate::calc::shop::item::{Function, SuppliedCableKind};

type Cell = Result<Value, String>;

/// What a device is on the data network: parts such as `2 LEN`, `drop 6 ft`, `on tee`, `terminator`, `plug P5`,
/// separated by `;`.
pub fn data_network(cell: &str) -> Cell {
    let mut read = Map::new();
    for part in parts(cell) {
        let unknown = || {
            format!(
                "'{part}' is nothing that a device is on a network: expected parts such as 2 LEN, drop 6 ft, on tee, \
                 terminator, plug P5"
            )
        };
        let (name, value) = match part {
            "on tee" => ("on_tee", json!(true)),
            "terminator" => ("terminator", json!(true)),
            _ => match part.split_once(' ').ok_or_else(unknown)? {
                (number, "LEN") => ("load_equivalency", cells::whole(number)?),
                ("drop", long) => ("drop_supplied", length(long)?),
                ("plug", plug) => ("display_plug", json!(plug)),
                _ => return Err(unknown()),
            },
        };
        if read.insert(name.to_owned(), value).is_some() {
            return Err(format!("'{cell}' says its {} twice", name.replace('_', " ")));
        }
    }
    Ok(Value::Object(read))
}

/// Cables that come with a device, separated by `;`: what each is and how long, then parts in any order, as in
/// `transducer 30 ft plug X9` or `antenna 20 ft may_be_cut to radio`.
pub fn supplied_cables(cell: &str) -> Cell {
    Ok(Value::Array(parts(cell).map(supplied_cable).collect::<Result<_, _>>()?))
}

fn supplied_cable(part: &str) -> Cell {
    let unknown = || {
        format!(
            "'{part}' is no supplied cable: expected what it is and its length, then such as plug X9, may_be_cut, to radio"
        )
    };
    let mut words = part.split_whitespace();
    let [Some(what), Some(value), Some(unit)] = [words.next(), words.next(), words.next()] else {
        return Err(unknown());
    };
    let mut cable = Map::new();
    cable.insert("cable".to_owned(), word::<SuppliedCableKind>(what, "supplied cable")?);
    cable.insert("length".to_owned(), length(&format!("{value} {unit}"))?);
    while let Some(next) = words.next() {
        let (name, value) = match next {
            "may_be_cut" => ("may_be_cut", json!(true)),
            "plug" => ("extension_plug", json!(words.next().ok_or_else(unknown)?)),
            "to" => ("leads_to", word::<Function>(words.next().ok_or_else(unknown)?, "function")?),
            _ => return Err(unknown()),
        };
        if cable.insert(name.to_owned(), value).is_some() {
            return Err(format!("'{part}' says its {} twice", name.replace('_', " ")));
        }
    }
    Ok(Value::Object(cable))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::shop::item::{DataNetwork, SuppliedCable};

    #[test]
    fn the_cells_of_network_and_cables_are_read_into_what_an_item_has() {
        let read: DataNetwork =
            serde_json::from_value(data_network("2 LEN; plug P5; drop 6 ft; terminator").unwrap()).unwrap();
        assert_eq!((read.load_equivalency, read.terminator, read.on_tee), (2, true, false));
        assert_eq!(read.drop_supplied.unwrap().to_string(), "6 ft");
        assert_eq!(read.display_plug.as_deref(), Some("P5"));
        let cables: Vec<SuppliedCable> = serde_json::from_value(
            supplied_cables("transducer 30 ft plug X9; antenna 6 m may_be_cut to audio").unwrap(),
        )
        .unwrap();
        assert_eq!(cables.len(), 2);
        assert_eq!(cables[0].extension_plug.as_deref(), Some("X9"));
        assert_eq!((cables[1].may_be_cut, cables[1].leads_to), (true, Some(Function::Audio)));
    }

    #[test]
    fn what_is_none_of_it_is_told() {
        for (cell, part) in [("2 LEN; 3 LEN", "twice"), ("drop long", "no length"), ("fast", "'fast'")] {
            let fault = data_network(cell).unwrap_err();
            assert!(fault.contains(part), "{cell}: {fault}");
        }
        for (cell, part) in
            [("transducer", "expected what"), ("rope 3 ft", "no supplied cable"), ("radar 3 ft to x", "'x'")]
        {
            let fault = supplied_cables(cell).unwrap_err();
            assert!(fault.contains(part), "{cell}: {fault}");
        }
    }
}

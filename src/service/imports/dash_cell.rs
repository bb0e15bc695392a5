//! The cell that says how an item goes into a dash.

use serde_json::{Value, json};

use super::cells;
use crate::calc::shop::item::DashMount;

/// Its kind, cut-out and outline, and the depth it needs: `display; cut_out 10 in x 6 in radius 0.25 in; outline 11 in x
/// 7 in; depth 3.5 in`, or `gauge; cut_out round 2.0625 in; outline round 2.5 in`.
pub fn dash_mount(cell: &str) -> Result<Value, String> {
    let refused = || {
        format!(
            "'{cell}' is no way into a dash: expected as in 'display; cut_out 10 in x 6 in radius 0.25 in; outline 11 in x 7 in; depth 3.5 in' or 'gauge; cut_out round 2 in; outline round 2.5 in'"
        )
    };
    let mut parts = cell.split(';').map(str::trim);
    let mut mount = json!({ "part": parts.next().unwrap_or_default() });
    for part in parts {
        let (name, rest) = part.split_once(' ').ok_or_else(refused)?;
        let (field, value) = match name {
            "cut_out" => ("cut_out", shape(rest, true)?),
            "outline" => ("outline", shape(rest, false)?),
            "depth" => ("depth_behind", cells::length(rest)?),
            _ => return Err(refused()),
        };
        mount[field] = value;
    }
    serde_json::from_value::<DashMount>(mount.clone()).map_err(|_| refused())?;
    Ok(mount)
}

fn shape(text: &str, cut_out: bool) -> Result<Value, String> {
    if let Some(diameter) = text.strip_prefix("round ") {
        return Ok(json!({ "shape": "round", "diameter": cells::length(diameter.trim())? }));
    }
    let (size, radius) = match text.split_once(" radius ") {
        Some((size, radius)) if cut_out => (size, Some(radius)),
        _ => (text, None),
    };
    let (width, height) =
        size.split_once(" x ").ok_or_else(|| format!("'{text}' is no size: expected as in '10 in x 6 in'"))?;
    let mut shape = json!({
        "shape": "rectangle", "width": cells::length(width.trim())?, "height": cells::length(height.trim())?,
    });
    if let Some(radius) = radius {
        shape["corner_radius"] = cells::length(radius.trim())?;
    }
    Ok(shape)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_is_read_or_told_what_it_should_be() {
        let read =
            dash_mount("display; cut_out 10 in x 6 in radius 0.25 in; outline 11 in x 7 in; depth 3.5 in").unwrap();
        let inches = |value: f64| json!({ "value": value, "unit": "in" });
        assert_eq!(
            read,
            json!({
                "part": "display",
                "cut_out": { "shape": "rectangle", "width": inches(10.0), "height": inches(6.0), "corner_radius": inches(0.25) },
                "outline": { "shape": "rectangle", "width": inches(11.0), "height": inches(7.0) },
                "depth_behind": inches(3.5),
            })
        );
        assert!(dash_mount("gauge; cut_out round 2 in; outline round 2.5 in").is_ok());
        for wrong in
            ["", "gauge", "lamp; cut_out round 2 in; outline round 3 in", "gauge; cut_out 2 in; outline round 3 in"]
        {
            assert!(dash_mount(wrong).is_err(), "{wrong}");
        }
    }
}

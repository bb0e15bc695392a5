//! Where labels stand: in rows outside the hull, none over another, none crossed by another's leader.

/// Room between neighbours in a row, pixels.
const GAP: f64 = 10.0;
/// Room between a label and a leader that passes it, pixels.
const PASS: f64 = 6.0;
/// More rows than this help nobody.
const ROWS_MOST: usize = 8;

/// A label placed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Placed {
    /// Its middle.
    pub x: f64,
    /// Its row, counted outwards from the hull.
    pub row: usize,
}

/// Places labels of these widths near the places they belong to, which rise, between two bounds.
///
/// Rows are used in turn. Each label keeps clear of those in its row, and of the leaders that pass it on their way to
/// rows further out; as few rows are used as will hold them.
pub(super) fn place(wanted: &[(f64, f64)], bounds: (f64, f64)) -> Vec<Placed> {
    for rows in 1..=ROWS_MOST {
        let placed = in_rows(wanted, bounds, rows);
        let fits = placed
            .iter()
            .zip(wanted)
            .all(|(p, (_, width))| p.x - width / 2.0 >= bounds.0 - 0.5 && p.x + width / 2.0 <= bounds.1 + 0.5);
        if fits || rows == ROWS_MOST {
            return placed;
        }
    }
    Vec::new()
}

fn in_rows(wanted: &[(f64, f64)], (least, most): (f64, f64), rows: usize) -> Vec<Placed> {
    let row = |i: usize| i % rows;
    let apart = |i: usize, j: usize| {
        let (a, b) = (wanted[i].1 / 2.0, wanted[j].1 / 2.0);
        match row(i).cmp(&row(j)) {
            std::cmp::Ordering::Equal => a + b + GAP,
            // The leader of the outer one passes the inner one.
            std::cmp::Ordering::Less => a + PASS,
            std::cmp::Ordering::Greater => b + PASS,
        }
    };
    let count = wanted.len();
    let near = |i: usize| i.saturating_sub(2 * rows)..i;
    // Two ways to keep clear: pushing right only, and pushing left only. Half way between them keeps clear too.
    let mut right: Vec<f64> = Vec::with_capacity(count);
    for (i, (x, _)) in wanted.iter().enumerate() {
        let from = near(i).map(|j| right[j] + apart(j, i)).fold(f64::NEG_INFINITY, f64::max);
        right.push(x.max(from));
    }
    let mut left: Vec<f64> = wanted.iter().map(|(x, _)| *x).collect();
    for i in (0..count).rev() {
        for j in near(i) {
            left[j] = left[j].min(left[i] - apart(j, i));
        }
    }
    let mut middle: Vec<f64> = left.iter().zip(&right).map(|(a, b)| f64::midpoint(*a, *b)).collect();
    // Then back between the bounds: from the left first, from the right last.
    for i in 0..count {
        let from = near(i).map(|j| middle[j] + apart(j, i)).fold(least + wanted[i].1 / 2.0, f64::max);
        middle[i] = middle[i].max(from);
    }
    for i in (0..count).rev() {
        middle[i] = middle[i].min(most - wanted[i].1 / 2.0);
        for j in near(i) {
            middle[j] = middle[j].min(middle[i] - apart(j, i));
        }
    }
    middle.into_iter().enumerate().map(|(i, x)| Placed { x, row: row(i) }).collect()
}

/// A name in lines of about so many characters, broken between words.
pub(super) fn wrapped(name: &str, longest: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in name.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= longest => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    if lines.is_empty() { vec![String::new()] } else { lines }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_of_one_place_stand_apart_and_inside() {
        let wanted: Vec<(f64, f64)> = (0..14).map(|i| (500.0 + f64::from(i % 3), 90.0)).collect();
        let placed = place(&wanted, (0.0, 1000.0));
        for (i, a) in placed.iter().enumerate() {
            assert!(a.x >= 45.0 - 0.5 && a.x <= 955.5, "{a:?}");
            for b in &placed[i + 1..] {
                let apart = (a.x - b.x).abs();
                assert!(apart >= if a.row == b.row { 100.0 } else { 51.0 } - 1e-6, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn a_label_with_room_stands_where_it_belongs() {
        assert_eq!(
            place(&[(100.0, 50.0), (400.0, 80.0)], (0.0, 1000.0)),
            [Placed { x: 100.0, row: 0 }, Placed { x: 400.0, row: 0 }]
        );
    }

    #[test]
    fn a_long_name_is_broken_between_words() {
        assert_eq!(wrapped("Under the starboard gunwale", 14), ["Under the", "starboard", "gunwale"]);
    }
}

//! The revised simplex method over columns that are found on the way. Its floats guide the search and prove nothing.

use super::Work;

/// Below this a reduced cost counts as none.
pub(super) const SMALL: f64 = 1e-9;

/// A column: its cost and its figures by row.
#[derive(Clone, Debug)]
pub(super) struct Column {
    pub(super) cost: f64,
    pub(super) rows: Vec<(usize, f64)>,
}

/// A programme of columns that are not negative, with the inverse of its basis.
pub(super) struct Simplex {
    rows: usize,
    inverse: Vec<f64>,
    pub(super) columns: Vec<Column>,
    /// The column that is basic in each row.
    pub(super) basis: Vec<usize>,
    is_basic: Vec<bool>,
    /// Its value.
    pub(super) values: Vec<f64>,
}

impl Simplex {
    /// Starts from a basis whose inverse is known: each row's column, and its value.
    pub(super) fn new(columns: Vec<Column>, basis: Vec<usize>, inverse: Vec<f64>, values: Vec<f64>) -> Self {
        let mut is_basic = vec![false; columns.len()];
        basis.iter().for_each(|&column| is_basic[column] = true);
        Simplex { rows: basis.len(), inverse, columns, basis, is_basic, values }
    }

    pub(super) fn add(&mut self, column: Column) {
        self.columns.push(column);
        self.is_basic.push(false);
    }

    /// What one more of each row's right side would cost.
    pub(super) fn duals(&self) -> Vec<f64> {
        let mut duals = vec![0.0; self.rows];
        for (row, &basic) in self.basis.iter().enumerate() {
            let cost = self.columns[basic].cost;
            if cost != 0.0 {
                let inverse = &self.inverse[row * self.rows..(row + 1) * self.rows];
                duals.iter_mut().zip(inverse).for_each(|(dual, &part)| *dual += cost * part);
            }
        }
        duals
    }

    /// Brings in one column after another until none lowers the cost, or the work is over. Answers the duals.
    pub(super) fn settle(&mut self, work: &mut Work) -> Vec<f64> {
        // Each turn lowers the cost or changes the basis; the bound is for turns that go round in a circle.
        for _ in 0..200 + 20 * self.rows {
            let duals = self.duals();
            work.spend(self.rows * self.rows + self.columns.len() * 6);
            let reduced = |column: &Column| {
                column.rows.iter().fold(column.cost, |cost, &(row, figure)| cost - duals[row] * figure)
            };
            let mut entering = None;
            let mut least = -SMALL;
            for (place, column) in self.columns.iter().enumerate() {
                if !self.is_basic[place] {
                    let cost = reduced(column);
                    if cost < least {
                        (entering, least) = (Some(place), cost);
                    }
                }
            }
            match entering {
                Some(entering) if !work.is_over() && self.enter(entering) => {}
                _ => return duals,
            }
        }
        self.duals()
    }

    fn enter(&mut self, entering: usize) -> bool {
        let rows = self.rows;
        let mut change = vec![0.0; rows];
        for &(at, figure) in &self.columns[entering].rows {
            for (row, change) in change.iter_mut().enumerate() {
                *change += self.inverse[row * rows + at] * figure;
            }
        }
        let mut leaving: Option<(usize, f64)> = None;
        for (row, (&change_here, &value)) in change.iter().zip(&self.values).enumerate() {
            if change_here > 1e-9 {
                let ratio = value.max(0.0) / change_here;
                let better = match leaving {
                    None => true,
                    Some((other, least)) => {
                        ratio < least - 1e-12 || (ratio < least + 1e-12 && change_here > change[other])
                    }
                };
                if better {
                    leaving = Some((row, ratio));
                }
            }
        }
        let Some((leaving, step)) = leaving else { return false };
        self.values.iter_mut().zip(&change).for_each(|(value, change)| *value -= step * change);
        self.values[leaving] = step;
        let pivot = change[leaving];
        let (before, rest) = self.inverse.split_at_mut(leaving * rows);
        let (own, after) = rest.split_at_mut(rows);
        own.iter_mut().for_each(|part| *part /= pivot);
        let others = before.chunks_exact_mut(rows).chain(after.chunks_exact_mut(rows));
        let factors = change[..leaving].iter().chain(&change[leaving + 1..]);
        for (other, &factor) in others.zip(factors) {
            if factor != 0.0 {
                other.iter_mut().zip(own.iter()).for_each(|(part, &own)| *part -= factor * own);
            }
        }
        self.is_basic[self.basis[leaving]] = false;
        self.is_basic[entering] = true;
        self.basis[leaving] = entering;
        true
    }
}

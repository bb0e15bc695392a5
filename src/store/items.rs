//! Items.
use super::{Access, Error};
use crate::calc::shop::item::Item;
pub async fn all(at: &impl Access) -> Result<Vec<Item>, Error> {
    let _ = at;
    todo!()
}

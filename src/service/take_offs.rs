//! Quantities of a job, with nothing stored.

use super::quotes::within_spec;
use super::{Error, Service};
use crate::calc::spec::input::BoatSpecInput;
use crate::calc::take_off::TakeOff;

impl Service {
    /// The take-off of a boat spec against the shop as it stands.
    ///
    /// # Errors
    /// [`Error::Faults`] with every fault of the spec, [`Error::Store`] when the database fails.
    pub async fn take_off(&self, spec: BoatSpecInput) -> Result<TakeOff, Error> {
        let (_, _shop) = self.shop().await?;
        let _ = spec;
        todo!()
    }
}

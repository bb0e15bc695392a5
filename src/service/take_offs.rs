//! Quantities of a job, with nothing stored.

use super::{Error, Service};
use crate::calc::chain;
use crate::calc::spec::input::BoatSpecInput;
use crate::calc::take_off::TakeOff;

impl Service {
    /// The take-off of a boat spec against the shop as it stands.
    ///
    /// # Errors
    /// [`Error::Faults`] with every fault of the spec, each with a JSON pointer into it; [`Error::Store`] when the
    /// database fails.
    pub async fn take_off(&self, spec: BoatSpecInput) -> Result<TakeOff, Error> {
        let (_, shop) = self.shop().await?;
        chain::take_off(&spec, &shop).map_err(Error::Faults)
    }
}

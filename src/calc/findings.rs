//! What is wrong, missing or unwise: faults refuse the input, gaps stand inside an answer, warnings only speak.

use serde::Serialize;
use utoipa::ToSchema;

use super::units::Name;

/// One thing that cannot be read or makes no sense; an input with any of these is refused, and all are listed.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
pub struct Fault {
    /// JSON pointer (RFC 6901) to the place in the input.
    pub pointer: String,
    /// What was met, what was expected, and what to do, in words a front desk understands.
    pub message: String,
}

impl Fault {
    /// A fault at a place.
    pub fn new(pointer: impl Into<String>, message: impl Into<String>) -> Self {
        Fault { pointer: pointer.into(), message: message.into() }
    }
}

/// Writes one segment of a JSON pointer (RFC 6901: `~` is `~0`, `/` is `~1`).
pub fn pointer_segment(text: &str) -> String {
    text.replace('~', "~0").replace('/', "~1")
}

/// Something the job needs and this answer cannot give: shown with its reason, never priced at zero.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Gap {
    /// What cannot be met: a requirement's key, or a circuit's.
    pub what: Name,
    /// The need in plain words.
    pub need: String,
    /// Why it cannot be met.
    pub reason: String,
    /// What would close the gap.
    pub mend: String,
}

/// Allowed, but unwise: printed on every shop document.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Warning {
    /// What it is about: a circuit, a station, a requirement or an overrule.
    pub about: Name,
    /// What is unwise, and what would be wiser.
    pub message: String,
}

/// Something to ask the customer or to look at on the boat before the quote is kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Question {
    /// Identifier of the question, the same on every quote.
    pub id: &'static str,
    /// What it is about, when it is about one station or circuit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about: Option<Name>,
    /// The question.
    pub text: String,
}

/// A safety caution that applies to this job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Caution {
    /// Identifier of the caution, the same on every quote.
    pub id: &'static str,
    /// The caution.
    pub text: &'static str,
    /// Where it was read, or that it is common practice.
    pub source: &'static str,
}

//! Documents that wait for their number. They are written and hashed before the write that takes it begins; within it
//! only the number is put behind them.

use sha2::{Digest, Sha256};

use super::Error;
use super::quotes::{broken, kept, kept_as, written};
use crate::calc::choices::Choice;
use crate::calc::customer::{CustomerDraft, SCHEMA_VERSION, customer_draft};
use crate::calc::quote::{IssueFacts, QuoteDocument};
use crate::store::quotes::{DocumentKind, NewDocument};

/// A document of a quote but for its number.
#[derive(Clone)]
pub(super) struct Unnumbered {
    schema_version: u32,
    /// Its JSON without the brace at the end.
    bytes: Vec<u8>,
    hashed: Sha256,
}

impl Unnumbered {
    pub(super) fn new(document: &QuoteDocument) -> Result<Self, Error> {
        debug_assert!(document.issue.is_none(), "a document is numbered once");
        let mut bytes = written(document)?;
        bytes.pop();
        let hashed = Sha256::new_with_prefix(&bytes);
        Ok(Unnumbered { schema_version: document.schema_version, bytes, hashed })
    }

    /// The document under its number: the bytes that it would have been written as.
    pub(super) fn under(&self, facts: &IssueFacts) -> Result<NewDocument, Error> {
        let mut behind = b",\"issue\":".to_vec();
        behind.extend(written(facts)?);
        behind.push(b'}');
        let mut bytes = Vec::with_capacity(self.bytes.len() + behind.len());
        bytes.extend_from_slice(&self.bytes);
        bytes.extend_from_slice(&behind);
        let hash = self.hashed.clone().chain_update(&behind).finalize();
        Ok(kept_as(DocumentKind::Quote, self.schema_version, hash.as_slice(), bytes))
    }
}

/// What the customer reads, under its number.
pub(super) fn numbered_copy(copy: &CustomerDraft, facts: &IssueFacts) -> Result<NewDocument, Error> {
    Ok(kept(DocumentKind::Customer, SCHEMA_VERSION, written(&copy.under(facts))?))
}

/// The documents of a choice, of which two wait for their number.
#[derive(Clone)]
pub(super) struct Waiting {
    pub(super) document: Unnumbered,
    pub(super) costing: NewDocument,
    pub(super) copy: CustomerDraft,
}

impl Waiting {
    pub(super) fn new(choice: &Choice) -> Result<Self, Error> {
        let costing = &choice.quotation.costing;
        let costing = kept(DocumentKind::Costing, costing.schema_version, written(costing)?);
        let document = &choice.quotation.document;
        let copy =
            customer_draft(&written(document)?).map_err(|cause| broken("documents", "bytes", &cause.to_string()))?;
        Ok(Waiting { document: Unnumbered::new(document)?, costing, copy })
    }
}

//! What the customer may add to a quote: which options are named, and the documents of the quote with them.

use uuid::Uuid;

use super::issue::{no_longer, unmoved};
use super::quotes::{QuoteRequest, QuoteState, QuoteSummary, broken, kept, not_found, request_of, written};
use super::{Error, Service};
use crate::calc::choices::joined;
use crate::calc::findings::Fault;
use crate::calc::units::Name;
use crate::store;
use crate::store::quotes::{Document, DocumentKind};

/// The options that are named, in the order of the quote's own.
///
/// # Errors
/// [`Error::Faults`] with a pointer to each that the quote does not have, that is named twice, or that cannot go along
/// with another.
pub(super) fn chosen(request: &QuoteRequest, named: &[Name]) -> Result<Vec<Name>, Error> {
    let mut faults = Vec::new();
    let known: Vec<&str> = request.options.iter().map(|option| option.id.as_str()).collect();
    let excludes = |one: &Name, other: &Name| {
        request.options.iter().any(|option| option.id == *one && option.excludes.contains(other))
    };
    for (place, id) in named.iter().enumerate() {
        let mut fault = |message: String| faults.push(Fault::new(format!("/options/{place}"), message));
        let earlier = &named[..place];
        if !known.contains(&id.as_str()) {
            let mend = match known.len() {
                0 => "it has none: leave this out".to_owned(),
                _ => format!("it has {}", known.join(", ")),
            };
            fault(format!("the quote has no option '{id}'; {mend}"));
        } else if earlier.contains(id) {
            fault(format!("'{id}' is named further up already: name it once"));
        } else if let Some(other) = earlier.iter().find(|other| excludes(id, other) || excludes(other, id)) {
            fault(format!("'{id}' cannot go along with '{other}': choose one of the two"));
        }
    }
    super::checks::none(faults)?;
    let of_the_quote = request.options.iter().map(|option| &option.id);
    Ok(of_the_quote.filter(|id| named.contains(id)).cloned().collect())
}

impl Service {
    /// The document of a quote without any option: the bytes of a
    /// [`QuoteDocument`](crate::calc::quote::QuoteDocument) as JSON.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_document(&self, id: Uuid) -> Result<Document, Error> {
        let found = store::quotes::document(&self.store, id, DocumentKind::Quote).await?;
        found.ok_or_else(|| not_found(id))
    }

    /// The costing of a quote without any option, for the owner only: the bytes of a
    /// [`CostingDocument`](crate::calc::quote::CostingDocument) as JSON.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_costing(&self, id: Uuid) -> Result<Document, Error> {
        let found = store::quotes::document(&self.store, id, DocumentKind::Costing).await?;
        found.ok_or_else(|| not_found(id))
    }

    /// A document of a quote with the options that are named. Those of an issued quote are frozen with it; of a draft
    /// they are calculated as they would be frozen, as long as the draft is what the shop would still promise.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Faults`] as [`chosen`] has them; [`Error::Moved`] when the draft is no longer what it
    /// was; [`Error::Store`].
    pub async fn choice_document(&self, id: Uuid, named: &[Name], kind: DocumentKind) -> Result<Document, Error> {
        if named.is_empty() {
            let found = store::quotes::document(&self.store, id, kind).await?;
            return found.ok_or_else(|| not_found(id));
        }
        let (quote, request) = store::quotes::with_request(&self.store, id).await?.ok_or_else(|| not_found(id))?;
        let request = request_of(id, &request)?;
        let options = chosen(&request, named)?;
        if quote.value.state == QuoteState::Draft {
            return self.draft_choice(&quote.value, request, &options, kind).await;
        }
        let found = store::choices::document(&self.store, id, &options, kind).await?;
        found.ok_or_else(|| no_choice(id, &options))
    }

    async fn draft_choice(
        &self,
        draft: &QuoteSummary,
        mut request: QuoteRequest,
        options: &[Name],
        kind: DocumentKind,
    ) -> Result<Document, Error> {
        let id = draft.id;
        request.priced_on = Some(draft.priced_on);
        let calculated = match self.calculated(&request).await {
            Err(Error::Faults(faults)) => return Err(no_longer(id, &faults)),
            other => other?,
        };
        unmoved(id, &self.quote_document(id).await?.bytes, &calculated)?;
        let choice = calculated.choices.iter().find(|choice| choice.options == options);
        let quotation = &choice.ok_or_else(|| no_choice(id, options))?.quotation;
        let (version, bytes) = match kind {
            DocumentKind::Quote => (quotation.document.schema_version, written(&quotation.document)?),
            DocumentKind::Costing => (quotation.costing.schema_version, written(&quotation.costing)?),
            // A customer reads what was issued.
            DocumentKind::Customer => return Err(not_found(id)),
        };
        Ok(kept(kind, version, bytes).document)
    }
}

/// The program's own fault: every set of options that can be chosen is calculated and kept.
pub(super) fn no_choice(id: Uuid, options: &[Name]) -> Error {
    broken("choices", "options", &format!("the quote '{id}' has no choice '{}'", joined(options)))
}

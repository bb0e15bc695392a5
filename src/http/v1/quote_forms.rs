//! A quote as it is answered: to all who read quotes, and to the owner, who also finds its costing. Both are made from
//! the fields that they may show; neither is the other with something taken out.

use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::quotes::PATH;
use crate::calc::choices::joined;
use crate::calc::money::Money;
use crate::calc::units::Name;
use crate::http::{access, etag};
use crate::service::Stored;
use crate::service::access::Role;
use crate::service::quotes::{QuoteState, QuoteSummary};

/// Where what belongs to a quote is found.
#[derive(Serialize, ToSchema)]
pub struct QuoteLinks {
    /// The quote itself.
    #[serde(rename = "self")]
    #[schema(format = "uri-reference")]
    this: String,
    /// Its document: take-off, lines and totals.
    #[schema(format = "uri-reference")]
    document: String,
    /// What it was made from, to be changed and sent back.
    #[schema(format = "uri-reference")]
    request: String,
    /// Its moves from state to state.
    #[schema(format = "uri-reference")]
    moves: String,
    /// What it promises differently from the quote that it revises.
    #[schema(format = "uri-reference")]
    changes: String,
    /// The document of what was accepted, the chosen options in it; absent until then.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(format = "uri-reference")]
    accepted_document: Option<String>,
    /// Whether its customer can open it by a link.
    #[schema(format = "uri-reference")]
    link: String,
}

/// Where what belongs to a quote is found, for the owner.
#[derive(Serialize, ToSchema)]
pub struct CostedQuoteLinks {
    /// The quote itself.
    #[serde(rename = "self")]
    #[schema(format = "uri-reference")]
    this: String,
    /// Its document: take-off, lines and totals.
    #[schema(format = "uri-reference")]
    document: String,
    /// What the owner reads beside it: cost, margin, purchases.
    #[schema(format = "uri-reference")]
    costing: String,
    /// What it was made from, to be changed and sent back.
    #[schema(format = "uri-reference")]
    request: String,
    /// Its moves from state to state.
    #[schema(format = "uri-reference")]
    moves: String,
    /// What it promises differently from the quote that it revises.
    #[schema(format = "uri-reference")]
    changes: String,
    /// The document of what was accepted, the chosen options in it; absent until then.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(format = "uri-reference")]
    accepted_document: Option<String>,
    /// The costing of what was accepted, the chosen options in it; absent until then.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(format = "uri-reference")]
    accepted_costing: Option<String>,
    /// Whether its customer can open it by a link.
    #[schema(format = "uri-reference")]
    link: String,
}

/// The address of a document of what was accepted.
fn of_accepted(summary: &QuoteSummary, part: &str) -> Option<String> {
    let address = format!("{}/{part}", address(summary.id));
    let with_options = match &summary.accepted_options[..] {
        [] => address,
        options => format!("{address}?options={}", joined(options)),
    };
    (summary.state == QuoteState::Accepted).then_some(with_options)
}

impl From<&QuoteSummary> for QuoteLinks {
    fn from(summary: &QuoteSummary) -> Self {
        let this = address(summary.id);
        let below = |part: &str| format!("{this}/{part}");
        QuoteLinks {
            document: below("document"),
            request: below("request"),
            moves: below("moves"),
            changes: below("changes"),
            accepted_document: of_accepted(summary, "document"),
            link: below("link"),
            this,
        }
    }
}

impl From<&QuoteSummary> for CostedQuoteLinks {
    fn from(summary: &QuoteSummary) -> Self {
        let QuoteLinks { this, document, request, moves, changes, accepted_document, link } = summary.into();
        let (costing, accepted_costing) = (format!("{this}/costing"), of_accepted(summary, "costing"));
        CostedQuoteLinks { costing, this, document, request, moves, changes, accepted_document, accepted_costing, link }
    }
}

/// Defines a form of the quote with its list: the fields that all forms have, and its own, named as the summary names
/// them.
macro_rules! form_of_quote {
    ($(#[$told:meta])* $quote:ident, $row:ident, $page:ident, $links:ident,
        { $($(#[$about:meta])* $own:ident: $own_type:ty,)* }) => {
        $(#[$told])*
        #[derive(Serialize, ToSchema)]
        pub struct $quote {
            /// Identifier.
            id: Uuid,
            /// Where it is in its life. Expect new values.
            state: QuoteState,
            /// Its number, given when it is issued; a revision has that of the quote it revises from the start.
            #[serde(skip_serializing_if = "Option::is_none")]
            #[schema(example = "2026-0042")]
            number: Option<String>,
            /// Which revision it is, counted from 1.
            revision: u32,
            /// Identifier of the quote that it revises.
            #[serde(skip_serializing_if = "Option::is_none")]
            revises: Option<Uuid>,
            /// Name of the boat or job.
            name: String,
            /// Customer, as the quote names them.
            #[serde(skip_serializing_if = "Option::is_none")]
            customer: Option<String>,
            /// Currency, ISO 4217.
            currency: String,
            /// Total without tax; once it is accepted, with the options that were chosen, and so the other totals.
            net: Money,
            /// Total tax.
            tax: Money,
            /// Total with tax; absent while a gap stands.
            #[serde(skip_serializing_if = "Option::is_none")]
            total: Option<Money>,
            /// Whether a gap stands.
            incomplete: bool,
            /// Hash of the document (SHA-256, hex).
            document_hash: String,
            $($(#[$about])* $own: $own_type,)*
            /// Version of the shop's tables that it was made from.
            catalogue_version: i64,
            /// Day whose prices hold.
            priced_on: NaiveDate,
            /// Last day on which the price holds.
            valid_until: NaiveDate,
            /// The end of that day where the shop is, set when it is issued: unanswered by then it has lapsed.
            #[serde(skip_serializing_if = "Option::is_none")]
            lapses_at: Option<DateTime<Utc>>,
            /// Identifiers of the options that the customer chose when he accepted it; absent when he chose none.
            #[serde(skip_serializing_if = "Vec::is_empty")]
            #[schema(value_type = Vec<String>, example = json!(["radar"]))]
            accepted_options: Vec<Name>,
            /// When it was made.
            created_at: DateTime<Utc>,
            /// Name of the key that made it, or `command line`; absent for what was written before keys were.
            #[serde(skip_serializing_if = "Option::is_none")]
            created_by: Option<String>,
            /// When it was last changed.
            updated_at: DateTime<Utc>,
            /// Name of the key that changed it last; absent as above, and when its last day was over without anybody's doing.
            #[serde(skip_serializing_if = "Option::is_none")]
            changed_by: Option<String>,
            /// The address by which the customer reads the quote and answers it, to be sent to him. Shown in the answer
            /// that issues it and never again, since only a hash is kept of its secret; a new one can be made.
            #[serde(skip_serializing_if = "Option::is_none")]
            #[schema(format = "uri-reference", pattern = "/q/[0-9a-f]{32}/[A-Za-z0-9_-]{43}$")]
            customer_address: Option<String>,
            /// Where what belongs to it is found.
            links: $links,
        }

        /// One row of the list of quotes.
        #[derive(Serialize, ToSchema)]
        pub struct $row {
            /// Its address.
            #[schema(format = "uri-reference")]
            href: String,
            /// Its version, to be sent as `If-Match` when it is changed.
            #[schema(example = "\"v3\"")]
            etag: String,
            /// The quote, as its address answers it.
            quote: $quote,
        }

        /// One page of the list of quotes.
        #[derive(Serialize, ToSchema)]
        pub struct $page {
            /// The rows of this page.
            rows: Vec<$row>,
            /// Cursor of the next page, to be sent as `cursor` with the same filters; absent on the last page.
            #[serde(skip_serializing_if = "Option::is_none")]
            next: Option<String>,
        }

        impl $quote {
            fn new(stored: Stored<QuoteSummary>, customer_address: Option<String>) -> Self {
                let Stored { value: summary, version: _, updated_at, changed_by } = stored;
                let links = $links::from(&summary);
                $quote {
                    id: summary.id,
                    state: summary.state,
                    number: summary.number,
                    revision: summary.revision,
                    revises: summary.revises,
                    name: summary.name,
                    customer: summary.customer,
                    currency: summary.currency,
                    net: summary.net,
                    tax: summary.tax,
                    total: summary.total,
                    incomplete: summary.incomplete,
                    document_hash: summary.document_hash,
                    $($own: summary.$own,)*
                    catalogue_version: summary.catalogue_version,
                    priced_on: summary.priced_on,
                    valid_until: summary.valid_until,
                    lapses_at: summary.lapses_at,
                    accepted_options: summary.accepted_options,
                    created_at: summary.created_at,
                    created_by: summary.created_by,
                    updated_at,
                    changed_by,
                    customer_address,
                    links,
                }
            }
        }

        impl $page {
            fn new(rows: Vec<Stored<QuoteSummary>>, next: Option<String>) -> Self {
                let row = |stored: Stored<QuoteSummary>| $row {
                    href: address(stored.value.id),
                    etag: etag::tag(stored.version),
                    quote: $quote::new(stored, None),
                };
                $page { rows: rows.into_iter().map(row).collect(), next }
            }
        }
    };
}

form_of_quote! {
    /// A quote: its state, its totals, and where the rest is.
    Quote, QuoteRow, QuotePage, QuoteLinks, {}
}

form_of_quote! {
    /// A quote as the owner reads it: also where its costing is.
    CostedQuote, CostedQuoteRow, CostedQuotePage, CostedQuoteLinks, {
        /// Hash of the costing (SHA-256, hex).
        costing_hash: String,
    }
}

/// The address of a quote.
pub fn address(id: Uuid) -> String {
    format!("{PATH}/{id}")
}

/// A quote in the form that the asking role reads.
#[derive(Serialize, ToSchema)]
#[serde(untagged)]
pub enum QuoteByRole {
    Costed(CostedQuote),
    Plain(Quote),
}

impl QuoteByRole {
    /// The form for a role: with the way to the costing only where that way may be gone.
    pub fn new(stored: Stored<QuoteSummary>, role: Role) -> Stored<Self> {
        QuoteByRole::with_address(stored, role, None)
    }

    /// The same with the address that is to be sent to the customer, where it is told.
    pub fn with_address(stored: Stored<QuoteSummary>, role: Role, customer: Option<String>) -> Stored<Self> {
        let form = if access::may(role, "read_quote_costing") {
            QuoteByRole::Costed(CostedQuote::new(stored.clone(), customer))
        } else {
            QuoteByRole::Plain(Quote::new(stored.clone(), customer))
        };
        stored.map(|_| form)
    }
}

/// A page of the list of quotes in the form that the asking role reads.
#[derive(Serialize, ToSchema)]
#[serde(untagged)]
pub enum QuotePageByRole {
    Costed(CostedQuotePage),
    Plain(QuotePage),
}

impl QuotePageByRole {
    /// The form for a role, as [`QuoteByRole::new`] chooses it.
    pub fn new(rows: Vec<Stored<QuoteSummary>>, next: Option<String>, role: Role) -> Self {
        if access::may(role, "read_quote_costing") {
            QuotePageByRole::Costed(CostedQuotePage::new(rows, next))
        } else {
            QuotePageByRole::Plain(QuotePage::new(rows, next))
        }
    }
}

//! Quotes: the envelope; what was calculated stands in their documents.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "quotes")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub state: String,
    pub number: Option<String>,
    pub revision: i64,
    pub revises: Option<Uuid>,
    pub version: i64,
    pub name: String,
    pub customer: Option<String>,
    pub search_text: String,
    pub currency: String,
    pub net_minor: i64,
    pub tax_minor: i64,
    pub total_minor: Option<i64>,
    pub incomplete: bool,
    pub document_hash: String,
    pub costing_hash: String,
    pub catalogue_version: i64,
    pub priced_on: Date,
    pub valid_until: Date,
    pub lapses_at: Option<DateTimeUtc>,
    pub accepted_options: Option<String>,
    pub request: Vec<u8>,
    pub created_at: DateTimeUtc,
    pub updated_at: DateTimeUtc,
    pub created_by: Option<String>,
    pub changed_by: Option<String>,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

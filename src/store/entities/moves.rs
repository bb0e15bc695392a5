//! Moves of quotes from state to state; only ever added to.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "moves")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub quote: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub version: i64,
    pub from_state: String,
    pub to_state: String,
    pub at: DateTimeUtc,
    pub moved_by: Option<String>,
    pub remark: Option<String>,
    pub superseded_by: Option<Uuid>,
    pub options: Option<String>,
    pub signed_name: Option<String>,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

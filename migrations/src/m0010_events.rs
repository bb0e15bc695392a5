//! What happened, for those who are to hear of it: events in the order in which they were made lasting. The row of
//! `counters` that their positions come from is locked from the last statement of a write to its end.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{bytes, id, moment, text, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let events = Table::create()
            .table(Alias::new("events"))
            .col(whole("position").primary_key())
            .col(id("id"))
            .col(text("kind"))
            .col(text("subject"))
            .col(moment("at"))
            .col(bytes("payload"))
            .take();
        manager.create_table(events).await
    }
}

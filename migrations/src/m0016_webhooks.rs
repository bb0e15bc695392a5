//! Who is told of events by a request to an address of his: each target with a position of its own among the events, and a
//! lease that one instance has while it tells him. What could not be delivered at once waits in `webhook_deliveries`; what
//! was tried stands in `webhook_attempts` for a while.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{bytes, flag, id, moment, text, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        manager.create_table(webhooks()).await?;
        manager.create_table(deliveries()).await?;
        manager.create_table(attempts()).await?;
        let due = Index::create()
            .name("webhook_deliveries_due")
            .table(Alias::new("webhook_deliveries"))
            .col(Alias::new("webhook"))
            .col(Alias::new("state"))
            .col(Alias::new("next_at"))
            .take();
        manager.create_index(due).await?;
        let log = Index::create()
            .name("webhook_attempts_log")
            .table(Alias::new("webhook_attempts"))
            .col(Alias::new("webhook"))
            .col(Alias::new("id"))
            .take();
        manager.create_index(log).await
    }
}

fn moment_or_none(name: &'static str) -> ColumnDef {
    ColumnDef::new(Alias::new(name)).timestamp_with_time_zone().take()
}

fn of_webhook(table: &'static str) -> ForeignKeyCreateStatement {
    ForeignKey::create()
        .from(Alias::new(table), Alias::new("webhook"))
        .to(Alias::new("webhooks"), Alias::new("id"))
        .on_delete(ForeignKeyAction::Cascade)
        .take()
}

fn webhooks() -> TableCreateStatement {
    Table::create()
        .table(Alias::new("webhooks"))
        .col(id("id").primary_key())
        .col(text("url"))
        .col(ColumnDef::new(Alias::new("description")).text())
        // Types with spaces between them and around; empty for all.
        .col(text("event_types"))
        .col(flag("enabled"))
        .col(moment_or_none("disabled_at"))
        .col(ColumnDef::new(Alias::new("disabled_reason")).text())
        .col(bytes("secret"))
        .col(ColumnDef::new(Alias::new("earlier_secret")).blob())
        .col(moment_or_none("earlier_secret_until"))
        .col(moment("created_at"))
        .col(text("created_by"))
        .col(moment("updated_at"))
        .col(text("changed_by"))
        .col(whole("version"))
        // How far it was told, and how that goes: no change of it, so its version stays.
        .col(whole("position"))
        .col(whole("failures"))
        .col(moment_or_none("failing_since"))
        .col(moment_or_none("held_until"))
        .col(ColumnDef::new(Alias::new("lease")).uuid())
        .col(moment_or_none("leased_until"))
        .take()
}

fn deliveries() -> TableCreateStatement {
    Table::create()
        .table(Alias::new("webhook_deliveries"))
        .col(id("webhook"))
        .col(whole("position"))
        .col(text("state"))
        .col(whole("attempts"))
        .col(moment("since"))
        .col(moment("next_at"))
        .primary_key(Index::create().col(Alias::new("webhook")).col(Alias::new("position")))
        .foreign_key(&mut of_webhook("webhook_deliveries"))
        .take()
}

fn attempts() -> TableCreateStatement {
    Table::create()
        .table(Alias::new("webhook_attempts"))
        .col(id("id").primary_key())
        .col(id("webhook"))
        .col(whole("position"))
        .col(id("event"))
        .col(text("kind"))
        .col(whole("attempt"))
        .col(moment("at"))
        .col(whole("duration_ms"))
        .col(text("outcome"))
        .col(ColumnDef::new(Alias::new("status")).big_integer())
        .col(ColumnDef::new(Alias::new("error")).text())
        .col(moment_or_none("next_at"))
        .foreign_key(&mut of_webhook("webhook_attempts"))
        .take()
}

//! The life of a quote: its number and revision, the moment at which it lapses, and every move that it made. Quotes from
//! before this step have no number and are first revisions.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{id, moment, text, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

fn of_quotes(column: ColumnDef) -> TableAlterStatement {
    Table::alter().table(Alias::new("quotes")).add_column(column).take()
}

fn index(name: &str, columns: &[&'static str], unique: bool) -> IndexCreateStatement {
    let mut index = Index::create().name(name).table(Alias::new("quotes")).take();
    for column in columns {
        index.col(Alias::new(*column));
    }
    if unique { index.unique().take() } else { index }
}

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let columns = [
            ColumnDef::new(Alias::new("number")).text().take(),
            ColumnDef::new(Alias::new("revision")).big_integer().not_null().default(1).take(),
            ColumnDef::new(Alias::new("revises")).uuid().take(),
            ColumnDef::new(Alias::new("lapses_at")).timestamp_with_time_zone().take(),
        ];
        for column in columns {
            manager.alter_table(of_quotes(column)).await?;
        }
        // No number twice, and no quote revised by two others, whatever a program does.
        manager.create_index(index("quotes_number", &["number", "revision"], true)).await?;
        manager.create_index(index("quotes_revises", &["revises"], true)).await?;
        manager.create_index(index("quotes_lapses_at", &["state", "lapses_at"], false)).await?;
        let moves = Table::create()
            .table(Alias::new("moves"))
            .col(id("quote"))
            .col(whole("version"))
            .col(text("from_state"))
            .col(text("to_state"))
            .col(moment("at"))
            // Absent when nobody did it: the day had come.
            .col(ColumnDef::new(Alias::new("moved_by")).text())
            .col(ColumnDef::new(Alias::new("remark")).text())
            .col(ColumnDef::new(Alias::new("superseded_by")).uuid())
            .primary_key(Index::create().col(Alias::new("quote")).col(Alias::new("version")))
            .foreign_key(
                ForeignKey::create()
                    .from(Alias::new("moves"), Alias::new("quote"))
                    .to(Alias::new("quotes"), Alias::new("id")),
            )
            .take();
        manager.create_table(moves).await
    }
}

//! Settings, packages and labour operations: small, read whole, changed whole.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{key, moment, text, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let documents = Table::create()
            .table(Alias::new("shop_documents"))
            .col(text("kind"))
            .col(key(manager, "code"))
            .col(text("body"))
            .col(whole("version"))
            .col(moment("updated_at"))
            .primary_key(Index::create().col(Alias::new("kind")).col(Alias::new("code")))
            .take();
        manager.create_table(documents).await
    }
}

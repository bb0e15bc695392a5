//! Imports of catalogue items from CSV: all or nothing.
//!
//! # The file
//! UTF-8 (a byte order mark is fine), fields separated by commas and quoted with `"` where they hold a comma, a quote
//! or a line break; the first row names the columns, in any order.
//!
//! | column | every item | written as |
//! | --- | --- | --- |
//! | `sku`, `description`, `category`, `kind` | yes | text; `kind` as in JSON (`wire`, `ring_terminal`, …) |
//! | `selling_unit`, `buying_unit`, `buying_quantity` | yes | `foot`; `spool`; `100` |
//! | `tax_class`, `supplier` | no | text |
//! | `minimum_order`, `order_multiple` | no | `5`: buying units, 1 where empty |
//! | `lead_time_days`, `special_order` | no | `14`; `yes` or `no` |
//! | `labour` | no | operation and quantity, separated by `;`: `mount_display 1; configure_electronics 1` |
//! | `cost`, `list_price` | no | price of one buying unit, of one selling unit: `31.00` |
//! | `valid_from` | no | first day of both prices, `2026-01-01`; the day of the import unless stated |
//!
//! Every attribute of every kind is a column of its own name (`size`, `stud`, `rating_a`, …), filled on the rows of
//! the kinds that have it and empty on all others: lengths as `0.25 in`, wire sizes as `16 AWG` or `1.5 mm2`, lists
//! separated by `;`, yes-or-no as `yes` or `no`. `leads` holds leads separated by `;`, each a role followed by parts
//! in any order: a current (`4.2 A`), a wire size, a length, `stud #8`, `colour red`. So a pump has
//! `switched_positive 4.2 A 16 AWG 30 in; return 16 AWG 30 in`.
//!
//! An item whose sku is in the catalogue is replaced, and is no longer retired if it was; the prices of its row are
//! added to those it has, in place of one of the same kind, day and quantity.

mod cells;
mod columns;
mod dash_cell;
mod network_cells;
mod read;
mod rows;

use std::collections::BTreeMap;

use bytes::Bytes;
use chrono::{Duration, NaiveDate};
use futures_util::{Stream, StreamExt};
use uuid::Uuid;

use super::items::{as_kept, check_item};
use super::once::{Answer, Made, Once, OpenClaim, answered_before};
use super::{Error, Service};
use crate::calc::shop::item::Item;
use crate::calc::shop::settings::Settings;
use crate::store::imports::StagedRow;
use crate::store::{self, Stored, Write};
use read::{Record, Records};
use rows::Header;

pub use crate::store::imports::{Import, ImportState, RowFault};

const WORDS: &str = "import";
/// Faults that a report holds.
const REPORTED: usize = 1000;
/// Rows that are staged in one write.
const BATCH: usize = 500;
/// After so long an import that is still being read has lost its reader.
const ABANDONED_AFTER: Duration = Duration::hours(1);

/// An import while its file is being read.
struct Reading<'a> {
    service: &'a Service,
    import: Import,
    settings: Stored<Settings>,
    today: NaiveDate,
    header: Option<Header>,
    waiting: Vec<StagedRow>,
}

impl Reading<'_> {
    /// Notes faults of one row, or of the whole file.
    fn refuse(&mut self, faults: Vec<RowFault>) {
        let room = REPORTED.saturating_sub(self.import.report.len());
        self.import.rows_bad += 1;
        self.import.report.extend(faults.into_iter().take(room));
    }

    /// Takes one record in. `false` when no use can be made of the rest of the file.
    async fn take(&mut self, record: Record<'_>) -> Result<bool, Error> {
        let Some(header) = &self.header else {
            return match Header::read(&record) {
                Ok(header) => {
                    self.header = Some(header);
                    Ok(true)
                }
                Err(faults) => {
                    self.refuse(faults);
                    Ok(false)
                }
            };
        };
        self.import.rows_read += 1;
        let row = header.row(&record, &self.settings.value, self.today);
        let good = row.faults.is_empty();
        if let Some(sku) = row.sku {
            self.waiting.push(StagedRow { line: record.line, sku, item: row.item.filter(|_| good) });
        }
        if !good {
            self.refuse(row.faults);
        }
        if self.waiting.len() >= BATCH {
            self.stage().await?;
        }
        Ok(true)
    }

    /// Puts the rows that were read aside, and tells how far the import has come.
    async fn stage(&mut self) -> Result<(), Error> {
        let write = self.service.store.write().await?;
        if !store::imports::update(&write, &self.import).await? {
            return Err(ended(self.import.id));
        }
        store::imports::stage(&write, self.import.id, &self.waiting).await?;
        write.commit().await?;
        self.waiting.clear();
        Ok(())
    }

    /// Rows whose sku stands further up: the later one would silently win.
    async fn refuse_repeated(&mut self) -> Result<(), Error> {
        let id = self.import.id;
        let repeated = store::imports::repeated(&self.service.store, id, REPORTED as u64).await?;
        self.import.rows_bad += store::imports::repeated_otherwise_good(&self.service.store, id).await?;
        let faults = repeated.into_iter().map(|row| RowFault {
            line: row.line,
            column: Some("sku".to_owned()),
            message: format!("'{}' stands on line {} already: take one of the two rows out", row.sku, row.first),
        });
        self.import.report.extend(faults);
        self.import.report.sort_by(|one, other| (one.line, &one.column).cmp(&(other.line, &other.column)));
        self.import.report.truncate(REPORTED);
        Ok(())
    }

    async fn finish(mut self, once: Once<'_, Import>) -> Result<Made<Import>, Error> {
        self.stage().await?;
        self.refuse_repeated().await?;
        let write = self.service.store.write().await?;
        self.ending();
        if self.import.rows_bad > 0 {
            return self.end(write).await.map(Made::Now);
        }
        // Whatever is claimed here is what the answer will say, unless the work fails and takes the claim along.
        let now = self.service.clock.now();
        if let Some(answer) = once.claim(&write, &self.import, now).await? {
            drop(write);
            self.leave_no_trace().await?;
            return Ok(Made::Before(answer));
        }
        if self.import.dry_run {
            return self.end(write).await.map(Made::Now);
        }
        self.apply(write).await.map(Made::Now)
    }

    /// Someone with the same key was faster: this import was never answered, so nobody knows of it.
    async fn leave_no_trace(self) -> Result<(), Error> {
        let write = self.service.store.write().await?;
        store::imports::clear(&write, self.import.id).await?;
        store::imports::remove(&write, self.import.id).await?;
        Ok(write.commit().await?)
    }

    /// Writes all staged items in one transaction.
    async fn apply(mut self, write: Write) -> Result<Import, Error> {
        store::shop::hold(&write).await?;
        let settings = store::shop::settings(&write).await?;
        let changed = settings.version != self.settings.version;
        let mut line = 0;
        loop {
            let rows = store::imports::staged(&write, self.import.id, line).await?;
            let Some(last) = rows.last() else { break };
            line = last.line;
            if changed {
                // The rows were checked against settings that no longer stand.
                for row in &rows {
                    let faults = row.item.iter().flat_map(|item| check_item(item, &settings.value));
                    let faults: Vec<RowFault> = faults.map(|fault| rows::row_fault(row.line, fault)).collect();
                    if !faults.is_empty() {
                        self.refuse(faults);
                    }
                }
            }
            if self.import.rows_bad == 0 {
                let items: Vec<Item> = rows.into_iter().filter_map(|row| row.item).collect();
                self.put(&write, items).await?;
            }
        }
        if self.import.rows_bad > 0 {
            drop(write);
            let write = self.service.store.write().await?;
            self.ending();
            return self.end(write).await;
        }
        if self.import.rows_read > 0 {
            store::shop::count_up(&write).await?;
        }
        self.end(write).await
    }

    async fn put(&self, write: &Write, items: Vec<Item>) -> Result<(), Error> {
        let skus: Vec<&str> = items.iter().map(|item| item.sku.as_str()).collect();
        let before = store::items::read_many(write, &skus).await?;
        let mut before: BTreeMap<_, _> = before.into_iter().map(|row| (row.value.sku.clone(), row)).collect();
        let merged: Vec<(Item, i64)> = items
            .into_iter()
            .map(|item| match before.remove(&item.sku) {
                Some(before) => (with_prices_of(item, before.value), before.version + 1),
                None => (as_kept(item), 1),
            })
            .collect();
        let by = Some(self.service.principal().name.as_str());
        Ok(store::items::put(write, &merged, self.service.clock.now(), by).await?)
    }

    /// How the import ends, and when.
    fn ending(&mut self) {
        self.import.state = match (self.import.rows_bad, self.import.dry_run) {
            (0, false) => ImportState::Applied,
            (0, true) => ImportState::DryRun,
            _ => ImportState::Refused,
        };
        self.import.finished_at = Some(self.service.clock.now());
    }

    /// Writes how the import ended, and clears what was staged.
    async fn end(self, write: Write) -> Result<Import, Error> {
        store::imports::clear(&write, self.import.id).await?;
        if !store::imports::update(&write, &self.import).await? {
            return Err(ended(self.import.id));
        }
        if self.import.state == ImportState::Applied && self.import.rows_read > 0 {
            store::events::append(&write, [self.service.import_event(&self.import)?]).await?;
        }
        write.commit().await?;
        Ok(self.import)
    }
}

/// The item of a row with the prices that the catalogue's item has beside those of the row.
fn with_prices_of(mut item: Item, before: Item) -> Item {
    let new: Vec<_> = item.prices.iter().map(|price| (price.kind, price.valid_from, price.minimum_quantity)).collect();
    let old = before.prices.into_iter();
    item.prices.extend(old.filter(|p| !new.contains(&(p.kind, p.valid_from, p.minimum_quantity))));
    as_kept(item)
}

fn ended(id: Uuid) -> Error {
    Error::NotAllowed(format!("the import '{id}' has ended: begin another one"))
}

impl Service {
    /// Begins an import; [`Service::import_csv`] carries it out.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn start_import(&self, dry_run: bool) -> Result<Import, Error> {
        let now = self.clock.now();
        let import = Import {
            id: self.clock.new_id(),
            state: ImportState::Reading,
            dry_run,
            rows_read: 0,
            rows_bad: 0,
            report: Vec::new(),
            created_at: now,
            created_by: Some(self.principal().name.clone()),
            finished_at: None,
        };
        let write = self.store.write().await?;
        for mut lost in store::imports::begun_before(&write, now - ABANDONED_AFTER).await? {
            lost.state = ImportState::Refused;
            lost.finished_at = Some(now);
            lost.report.push(RowFault {
                line: lost.rows_read + 1,
                column: None,
                message: "the file never came to its end: send it again".to_owned(),
            });
            store::imports::clear(&write, lost.id).await?;
            store::imports::update(&write, &lost).await?;
        }
        store::imports::insert(&write, &import).await?;
        write.commit().await?;
        Ok(import)
    }

    /// Reads the CSV of an import that was begun, and applies it when every row is good and it is no trial. Memory
    /// stays within a batch of rows, however long the file is.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::NotAllowed`] when it has ended already; [`Error::Store`]. Bad rows are no error:
    /// the answer's state and report speak of them.
    pub async fn import_csv<S, E>(&self, id: Uuid, csv: S) -> Result<Import, Error>
    where
        S: Stream<Item = Result<Bytes, E>> + Unpin,
        E: std::fmt::Display,
    {
        let answer = |_: &Import| unreachable!("nothing is claimed here, so no answer is kept");
        Ok(self.read_csv(id, csv, None, &answer).await?.unclaimed())
    }

    /// Imports a CSV once: a file that comes with the key of an earlier one is read to its end, to be compared with
    /// that one, and changes nothing. `answer` makes what is kept as the answer.
    ///
    /// # Errors
    /// [`Error::KeyReused`] when the earlier file was another one, or a trial where this one is none; [`Error::Store`].
    pub async fn import_once<S, E>(
        &self,
        dry_run: bool,
        mut csv: S,
        claim: Option<OpenClaim>,
        answer: &(dyn Fn(&Import) -> Answer + Sync),
    ) -> Result<Made<Import>, Error>
    where
        S: Stream<Item = Result<Bytes, E>> + Unpin,
        E: std::fmt::Display,
    {
        if let Some(mut claim) = claim.clone()
            && let Some(kept) = self.answered_key(&claim).await?
        {
            while let Some(piece) = csv.next().await {
                claim.feed(&piece.map_err(|cause| Error::NotAllowed(format!("{cause}: send it again")))?);
            }
            return Ok(Made::Before(answered_before(kept, claim)?));
        }
        let import = self.start_import(dry_run).await?;
        self.read_csv(import.id, csv, claim, answer).await
    }

    async fn read_csv<S, E>(
        &self,
        id: Uuid,
        mut csv: S,
        mut claim: Option<OpenClaim>,
        answer: &(dyn Fn(&Import) -> Answer + Sync),
    ) -> Result<Made<Import>, Error>
    where
        S: Stream<Item = Result<Bytes, E>> + Unpin,
        E: std::fmt::Display,
    {
        let import = self.import(id).await?;
        if import.state != ImportState::Reading || import.rows_read > 0 {
            return Err(ended(id));
        }
        let settings = self.settings().await?;
        let today = self.clock.today(&settings.value.time_zone).unwrap_or(import.created_at.date_naive());
        let mut reading = Reading { service: self, import, settings, today, header: None, waiting: Vec::new() };
        let mut records = Records::default();
        let mut useful = true;
        // A byte order mark is known by its first three bytes, and these may come one by one.
        let mut opening = Some(Vec::new());
        while useful {
            let chunk = match csv.next().await {
                Some(Ok(chunk)) => {
                    if let Some(claim) = &mut claim {
                        claim.feed(&chunk);
                    }
                    chunk
                }
                None => break,
                Some(Err(cause)) => {
                    let message = format!("the file broke off here ({cause}): send it again");
                    reading.refuse(vec![RowFault { line: records.line(), column: None, message }]);
                    return reading.finish(Once::unclaimed()).await;
                }
            };
            let Some(begun) = &mut opening else {
                useful = chunk.is_empty() || reading.feed(&mut records, &chunk).await?;
                continue;
            };
            begun.extend_from_slice(&chunk);
            if begun.len() >= 3 {
                useful = reading.feed(&mut records, &opening.take().unwrap_or_default()).await?;
            }
        }
        if let Some(short) = opening.filter(|short| useful && !short.is_empty()) {
            useful = reading.feed(&mut records, &short).await?;
        }
        if useful {
            reading.feed(&mut records, &[]).await?;
        }
        if reading.header.is_none() && reading.import.rows_bad == 0 {
            let message = "the file is empty: expected a row with the names of the columns".to_owned();
            reading.refuse(vec![RowFault { line: 1, column: None, message }]);
        }
        // A file that was not read to its end was refused, and a refusal keeps no claim.
        let claim = claim.filter(|_| useful).map(OpenClaim::close);
        reading.finish(Once::by(claim.as_ref(), answer)).await
    }

    /// An import: while it is being read, how far it has come.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn import(&self, id: Uuid) -> Result<Import, Error> {
        let found = store::imports::read(&self.store, id).await?;
        found.ok_or_else(|| Error::NotFound { kind: WORDS, id: id.to_string() })
    }
}

impl Reading<'_> {
    /// Takes a piece of the file in; an empty one is its end. `false` when no use can be made of the rest.
    async fn feed(&mut self, records: &mut Records, piece: &[u8]) -> Result<bool, Error> {
        let mut rest = piece;
        let at_end = piece.is_empty();
        while at_end || !rest.is_empty() {
            match records.next(&mut rest) {
                Ok(Some(record)) => {
                    if !self.take(record).await? {
                        return Ok(false);
                    }
                }
                Ok(None) => break,
                Err(fault) => {
                    self.refuse(vec![fault]);
                    return Ok(false);
                }
            }
        }
        Ok(true)
    }
}

//! Tells targets of what happened.
//!
//! Each target is told by one instance at a time, which holds a lease on it: one event after the other, in order as long as
//! nothing fails. So a target that is slow or dead holds up itself alone. An instance that is killed leaves a lease that
//! runs out; another goes on from what was written down, and tells what it was about to tell once more, under the same
//! identifier.

use std::error::Error as StdError;
use std::future::Future;
use std::sync::Arc;
use std::time::Duration as StdDuration;

use chrono::{DateTime, Duration, Utc};
use tokio::sync::watch;
use tokio::task::JoinSet;

use super::schedule::{self, Verdict};
use crate::outbound::webhooks::{Message, Outcome, Tried};
use crate::service::access::DELIVERY;
use crate::service::events::{CloudEvent, Event, WebhookEvent};
use crate::service::quotes::written;
use crate::service::{Error, Service};
use crate::store::deliveries::{AttemptRow, Lease, Then, Waiting};
use crate::store::webhooks::WebhookRow;
use crate::store::{self, deliveries};

/// For how much longer than a try a lease holds: the patience of the database, and what two clocks may differ by. Each try
/// renews it.
const LEASE_MORE: Duration = Duration::seconds(10);
/// How often it is looked whether there is something to tell.
const LOOK_EVERY: StdDuration = StdDuration::from_millis(500);
/// Events that are read at once for a target.
const AT_ONCE: u64 = 20;

/// What is told of every try, for the counters.
pub type Observer = Arc<dyn Fn(&Tried) + Send + Sync>;

/// A lease and until when it holds.
type Held = (Lease, DateTime<Utc>);

impl Service {
    /// Tells targets for ever; when `stop` is done, finishes the tries under way, and returns. Listeners hear from here
    /// how far events have come.
    pub async fn tell_targets(&self, stop: impl Future<Output = ()>, observe: Observer) {
        let (stopping, stopped) = watch::channel(false);
        let mut stop = std::pin::pin!(stop);
        let mut looks = tokio::time::interval(LOOK_EVERY);
        looks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        let mut under_way: JoinSet<()> = JoinSet::new();
        let mut well = true;
        loop {
            tokio::select! {
                () = &mut stop => break,
                Some(_) = under_way.join_next() => {}
                _ = looks.tick() => {
                    match self.lease_targets().await {
                        Ok(leases) => {
                            well = true;
                            for held in leases {
                                let (service, stopped) = (self.clone(), stopped.clone());
                                let observe = observe.clone();
                                under_way.spawn(async move { service.tell(held, &stopped, &observe).await });
                            }
                        }
                        // Said once, and not twice a second while the database is away.
                        Err(error) => if std::mem::take(&mut well) { failed(&error) },
                    }
                }
            }
        }
        stopping.send_replace(true);
        while under_way.join_next().await.is_some() {}
    }

    /// Tells targets all that is due, and returns. How many tries that took.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn tell_due(&self) -> Result<u64, Error> {
        let tries = Arc::new(std::sync::atomic::AtomicU64::new(0));
        let counted = tries.clone();
        let observe: Observer = Arc::new(move |_| {
            counted.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        });
        let (_stopping, stopped) = watch::channel(false);
        let leases = self.lease_targets().await?;
        futures_util::future::join_all(leases.into_iter().map(|held| self.tell(held, &stopped, &observe))).await;
        Ok(tries.load(std::sync::atomic::Ordering::Relaxed))
    }

    fn longest_try(&self) -> Duration {
        Duration::from_std(self.sender.longest()).expect("a try takes seconds")
    }

    /// How long a lease holds.
    fn lease(&self) -> Duration {
        self.longest_try() + LEASE_MORE
    }

    /// Takes a lease on every target that there is something to tell.
    async fn lease_targets(&self) -> Result<Vec<Held>, Error> {
        let now = self.clock.now();
        let last = store::events::last_position(&self.store).await?;
        self.told.come_to(last);
        let mut leases = Vec::new();
        let free = deliveries::free(&self.store, now).await?;
        if free.is_empty() {
            return Ok(leases);
        }
        let due = deliveries::targets_due(&self.store, now).await?;
        for target in free {
            if !self.has_news(&target, last, now).await? && !due.contains(&target.id) {
                continue;
            }
            let lease = Lease { webhook: target.id, holder: self.clock.new_id() };
            let until = now + self.lease();
            if deliveries::take(&self.store, lease, now, until).await? {
                leases.push((lease, until));
            }
        }
        Ok(leases)
    }

    /// Whether something happened that a target is to be told of. What it is not told of is passed over.
    async fn has_news(&self, target: &WebhookRow, last: i64, now: DateTime<Utc>) -> Result<bool, Error> {
        if target.position >= last {
            return Ok(false);
        }
        let next = store::events::of_kinds_behind(&self.store, &target.event_types, target.position, 1).await?;
        if next.is_empty() {
            deliveries::pass_over(&self.store, target, last, now).await?;
        }
        Ok(!next.is_empty())
    }

    /// Tells one target, and gives the lease back.
    async fn tell(&self, held: Held, stopped: &watch::Receiver<bool>, observe: &Observer) {
        let (lease, _) = held;
        if let Err(error) = self.tell_one_after_the_other(held, stopped, observe).await {
            failed(&error);
        }
        if let Err(error) = deliveries::give_back(&self.store, lease).await {
            failed(&error.into());
        }
    }

    async fn tell_one_after_the_other(
        &self,
        (lease, mut until): Held,
        stopped: &watch::Receiver<bool>,
        observe: &Observer,
    ) -> Result<(), Error> {
        let longest = self.longest_try();
        loop {
            let Some(target) = store::webhooks::read(&self.store, lease.webhook).await? else { return Ok(()) };
            let now = self.clock.now();
            if !target.enabled || target.held_until.is_some_and(|until| now < until) {
                return Ok(());
            }
            let batch = self.batch(&target, now).await?;
            if batch.is_empty() {
                return Ok(());
            }
            for (event, before) in batch {
                // Whoever was stopped for too long, by whatever, no longer knows whether he is the only one.
                if *stopped.borrow() || self.clock.now() + longest >= until {
                    return Ok(());
                }
                let Some(told) = self.tell_event(lease, &target, &event, before, observe).await? else { return Ok(()) };
                until = told.leased_until;
                if !told.goes_on {
                    break;
                }
            }
        }
    }

    /// What is due to a target, in order.
    async fn batch(&self, target: &WebhookRow, now: DateTime<Utc>) -> Result<Vec<(Event, Option<Waiting>)>, Error> {
        let waiting = deliveries::due(&self.store, target.id, now, AT_ONCE).await?;
        let positions: Vec<i64> = waiting.iter().map(|one| one.position).collect();
        let again = match positions.is_empty() {
            true => Vec::new(),
            false => store::events::at_positions(&self.store, &positions).await?,
        };
        let of = |event: &Event| waiting.iter().find(|one| one.position == event.position).copied();
        let mut batch: Vec<(Event, Option<Waiting>)> =
            again.into_iter().map(|event| (event.clone(), of(&event))).collect();
        let fresh = store::events::of_kinds_behind(&self.store, &target.event_types, target.position, AT_ONCE).await?;
        let mut fresh = fresh.into_iter().map(|event| (event, None));
        // Whether a target is back is asked with what it has not refused before.
        if target.failures >= schedule::FAILURES_OF_TARGET
            && let Some(first) = fresh.next()
        {
            batch.insert(0, first);
        }
        batch.extend(fresh);
        Ok(batch)
    }

    /// Tells a target of one event, and writes down what came of it. `None` when the lease was lost or the target deleted
    /// meanwhile: then the next who holds it does it once more.
    async fn tell_event(
        &self,
        lease: Lease,
        target: &WebhookRow,
        event: &Event,
        before: Option<Waiting>,
        observe: &Observer,
    ) -> Result<Option<Told>, Error> {
        let began = self.clock.now();
        let payload = written(&CloudEvent::try_from(event.clone())?)?;
        let earlier = target.earlier.as_ref().filter(|(_, until)| began < *until).map(|(secret, _)| secret);
        let secrets = std::iter::once(&target.secret).chain(earlier).collect();
        let message = Message { id: event.id, payload: &payload, at: began, secrets };
        let tried = self.sender.send(&target.url, &message).await;
        observe(&tried);
        let now = self.clock.now();
        let write = self.store.write().await?;
        let Some(row) = deliveries::hold(&write, lease).await? else { return Ok(None) };
        // What the old address did says nothing of the new one: the event is told anew.
        if row.version != target.version && tried.outcome != Outcome::Delivered {
            return Ok(None);
        }
        let share = (self.clock.new_id().as_u128() % 512) as u32;
        let verdict = schedule::after(&row, event.position, before, &tried, (began, now), now + self.lease(), share);
        let Verdict { then, standing, disabled, is_back } = verdict;
        let next_at = match then {
            Then::Again(waiting) if disabled.is_none() => Some(waiting.next_at),
            _ => None,
        };
        let attempt = AttemptRow {
            id: self.clock.new_id(),
            webhook: row.id,
            position: event.position,
            event: event.id,
            kind: event.kind.clone(),
            attempt: before.map_or(0, |before| before.attempts) + 1,
            at: began,
            duration_ms: i64::try_from(tried.took.as_millis()).unwrap_or(i64::MAX),
            outcome: tried.outcome.as_str().to_owned(),
            status: tried.status,
            error: tried.error.clone(),
            next_at,
        };
        deliveries::note(&write, &attempt, then, standing).await?;
        if let Some(failing_since) = row.failing_since.filter(|_| is_back) {
            deliveries::hasten(&write, row.id, failing_since, now).await?;
        }
        if let Some(reason) = disabled {
            let changed = WebhookRow {
                enabled: false,
                disabled_at: Some(now),
                disabled_reason: Some(reason.as_str().to_owned()),
                updated_at: now,
                changed_by: DELIVERY.to_owned(),
                version: row.version + 1,
                ..row.clone()
            };
            store::webhooks::replace(&write, &changed, false).await?;
            let failing_since = standing.failing_since.unwrap_or(began);
            let said = WebhookEvent { webhook: row.id, reason, failing_since };
            store::events::append(&write, [self.webhook_event(&said, now)?]).await?;
        }
        write.commit().await?;
        said(&row, &tried, &verdict);
        let goes_on = disabled.is_none() && standing.held_until.is_none() && !is_back && row.version == target.version;
        Ok(Some(Told { leased_until: standing.leased_until, goes_on }))
    }
}

/// What is known after an event was told or not.
struct Told {
    /// Until when the lease holds.
    leased_until: DateTime<Utc>,
    /// Whether the target is still as it was, so that the next event can be told without looking at it anew.
    goes_on: bool,
}

fn failed(error: &Error) {
    tracing::warn!(error = error as &dyn StdError, "targets could not be told of events; it is tried again");
}

/// A line when a target begins to fail, is left alone, is back, or is told no more. Its address may hold a secret and stays
/// out.
fn said(before: &WebhookRow, tried: &Tried, verdict: &Verdict) {
    let (webhook, outcome, failures) = (before.id, tried.outcome.as_str(), verdict.standing.failures);
    if let Some(reason) = verdict.disabled {
        tracing::warn!(%webhook, reason = reason.as_str(), "a webhook is told no more: enable it when it is mended");
    } else if verdict.is_back {
        tracing::info!(%webhook, "a webhook takes events again");
    } else if failures == 1 || failures == schedule::FAILURES_OF_TARGET {
        tracing::warn!(%webhook, outcome, failures, "a webhook does not take events; it is tried again");
    }
}

//! Time and new identifiers: the real ones, or fixed ones for tests. Nothing else in the program asks for either.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use chrono::{DateTime, NaiveDate, SubsecRound, TimeZone, Utc};
use chrono_tz::Tz;
use uuid::{Builder, Uuid};

/// Where time and new identifiers come from.
#[derive(Clone, Debug)]
pub enum Clock {
    /// The system's.
    System,
    /// A time that stands until it is set, and identifiers that count up.
    Fixed(Arc<FixedClock>),
}

/// The state of a fixed clock; all clones of a [`Clock::Fixed`] share it.
#[derive(Debug)]
pub struct FixedClock {
    now: Mutex<DateTime<Utc>>,
    ids: AtomicU64,
    order: Order,
}

impl FixedClock {
    /// Sets the time.
    pub fn set(&self, now: DateTime<Utc>) {
        *self.now.lock().unwrap_or_else(PoisonError::into_inner) = now;
    }

    fn now(&self) -> DateTime<Utc> {
        *self.now.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Keeps identifiers in the order in which they are made: lists go by it, and a clock may be set back.
#[derive(Debug)]
struct Order(Mutex<u128>);

/// What of an identifier of version 7 may be counted up: the bits behind the variant (RFC 9562, section 5.7).
const COUNTED: u128 = (1 << 62) - 1;

impl Order {
    const fn new() -> Self {
        Order(Mutex::new(0))
    }

    /// The identifier itself if it sorts behind all before it; otherwise the next one behind those.
    fn behind_all(&self, made: Uuid) -> Uuid {
        let mut last = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let made = made.as_u128();
        let next = if made > *last { made } else { next_behind(*last) };
        *last = next;
        Uuid::from_u128(next)
    }

    /// Has later identifiers sort behind this one too.
    fn begin_behind(&self, id: Uuid) {
        let mut last = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        *last = id.as_u128().max(*last);
    }
}

/// The next identifier: one more in what may be counted, and a millisecond later when that is used up.
fn next_behind(id: u128) -> u128 {
    if id & COUNTED == COUNTED { (id & !COUNTED) + (1 << 80) } else { id + 1 }
}

/// The order of what this process makes by the system's time.
static SYSTEM_ORDER: Order = Order::new();

impl Clock {
    /// A clock that stands at a time, with identifiers counted from 1.
    pub fn fixed(now: DateTime<Utc>) -> Self {
        Clock::Fixed(Arc::new(FixedClock { now: Mutex::new(now), ids: AtomicU64::new(0), order: Order::new() }))
    }

    /// The time, in whole microseconds: the finest that both databases keep.
    #[expect(clippy::disallowed_methods, reason = "the one place that asks the system for the time")]
    pub fn now(&self) -> DateTime<Utc> {
        let now = match self {
            Clock::System => Utc::now(),
            Clock::Fixed(fixed) => fixed.now(),
        };
        now.trunc_subsecs(6)
    }

    /// A new identifier (UUID version 7, RFC 9562): later ones sort behind earlier ones, even when the time is set back
    /// in between.
    #[expect(clippy::disallowed_methods, reason = "the one place that makes identifiers")]
    pub fn new_id(&self) -> Uuid {
        match self {
            Clock::System => SYSTEM_ORDER.behind_all(Uuid::now_v7()),
            Clock::Fixed(fixed) => {
                let count = fixed.ids.fetch_add(1, Ordering::Relaxed) + 1;
                // The version takes the first four bits of these ten bytes and the variant two further on; a count
                // below 2^56 in the last seven is never touched by either.
                let mut tail = [0; 10];
                tail[2..].copy_from_slice(&count.to_be_bytes());
                let millis = u64::try_from(fixed.now().timestamp_millis()).unwrap_or(0);
                fixed.order.behind_all(Builder::from_unix_timestamp_millis(millis, &tail).into_uuid())
            }
        }
    }

    /// Has all new identifiers sort behind this one: the last that was made before the process began.
    pub fn begin_behind(&self, id: Uuid) {
        match self {
            Clock::System => SYSTEM_ORDER.begin_behind(id),
            Clock::Fixed(fixed) => fixed.order.begin_behind(id),
        }
    }

    /// The calendar day in a time zone (IANA name). `None` when no time zone has that name.
    pub fn today(&self, time_zone: &str) -> Option<NaiveDate> {
        day_of(time_zone, self.now())
    }
}

/// The calendar day of a moment in a time zone (IANA name). `None` when no time zone has that name.
pub fn day_of(time_zone: &str, moment: DateTime<Utc>) -> Option<NaiveDate> {
    let zone: Tz = time_zone.parse().ok()?;
    Some(moment.with_timezone(&zone).date_naive())
}

/// The end of a calendar day in a time zone (IANA name): the beginning of the next. `None` when no time zone has that
/// name, or no day follows.
pub fn end_of_day(time_zone: &str, day: NaiveDate) -> Option<DateTime<Utc>> {
    let zone: Tz = time_zone.parse().ok()?;
    let next = day.succ_opt()?;
    // Where the clocks are put forward at midnight the day begins later.
    let begins = (0..24).find_map(|hour| zone.from_local_datetime(&next.and_hms_opt(hour, 0, 0)?).earliest());
    Some(begins?.with_timezone(&Utc))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Clock {
        Clock::fixed(text.parse().unwrap())
    }

    #[test]
    fn the_calendar_day_is_that_of_the_time_zone() {
        // UTC offsets from the IANA time zone database: New York -4 h in summer, Auckland +12 h in July.
        let clock = at("2026-07-01T02:00:00Z");
        assert_eq!(clock.today("America/New_York"), NaiveDate::from_ymd_opt(2026, 6, 30));
        assert_eq!(clock.today("Pacific/Auckland"), NaiveDate::from_ymd_opt(2026, 7, 1));
        assert_eq!(at("2026-07-01T13:00:00Z").today("Pacific/Auckland"), NaiveDate::from_ymd_opt(2026, 7, 2));
        assert_eq!(clock.today("Harbour/Nowhere"), None);
    }

    #[test]
    fn a_day_ends_where_the_next_begins() {
        let end = |zone: &str, day: &str| end_of_day(zone, day.parse().unwrap()).map(|end| end.to_rfc3339());
        // UTC offsets from the IANA time zone database: New York -5 h in January; in Santiago the clocks went from
        // 24:00 on 7 September 2024 to 1:00, offset -3 h from then on.
        assert_eq!(end("America/New_York", "2027-01-31").as_deref(), Some("2027-02-01T05:00:00+00:00"));
        assert_eq!(end("America/Santiago", "2024-09-07").as_deref(), Some("2024-09-08T04:00:00+00:00"));
        assert_eq!(end("Harbour/Nowhere", "2027-01-31"), None);
    }

    #[test]
    fn identifiers_are_version_7_and_sort_in_the_order_they_were_made() {
        for clock in [Clock::System, at("2026-07-01T02:00:00Z")] {
            let made: Vec<Uuid> = (0..1000).map(|_| clock.new_id()).collect();
            assert!(made.windows(2).all(|pair| pair[0] < pair[1]));
            assert!(made.iter().all(|id| id.get_version_num() == 7));
        }
    }

    #[test]
    fn identifiers_keep_their_order_when_the_time_is_set_back() {
        let clock = at("2026-07-01T02:00:00Z");
        let Clock::Fixed(fixed) = &clock else { unreachable!("it was made so") };
        let mut made = vec![clock.new_id()];
        for time in ["2026-07-01T01:00:00Z", "1970-01-01T00:00:00Z", "2026-07-01T03:00:00Z", "2026-06-30T00:00:00Z"] {
            fixed.set(time.parse().unwrap());
            made.extend([clock.new_id(), clock.new_id()]);
        }
        assert!(made.windows(2).all(|pair| pair[0] < pair[1]), "{made:#?}");
        assert!(made.iter().all(|id| id.get_version_num() == 7), "{made:#?}");
        let restarted = at("2026-01-01T00:00:00Z");
        restarted.begin_behind(made[8]);
        assert!(restarted.new_id() > made[8]);
    }

    #[test]
    fn an_identifier_whose_count_is_used_up_is_followed_by_the_next_millisecond() {
        let last: Uuid = "019a0000-0000-7abc-bfff-ffffffffffff".parse().unwrap();
        let next = Uuid::from_u128(next_behind(last.as_u128()));
        assert_eq!(next.to_string(), "019a0000-0001-7abc-8000-000000000000");
        assert_eq!((next.get_version_num(), next.get_variant()), (7, uuid::Variant::RFC4122));
    }

    #[test]
    fn time_has_no_more_than_microseconds() {
        assert_eq!(at("2026-07-01T02:00:00.123456789Z").now(), at("2026-07-01T02:00:00.123456Z").now());
    }
}

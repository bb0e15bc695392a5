//! What follows from a try: when an event is tried again, when a target is left alone for a while, and when it is told no
//! more. Plain: time and chance come in as arguments.
//!
//! 1. An event that was not delivered is tried again after a pause that grows fourfold, from 5 seconds to 6 hours, for three
//!    days from its first try on. Each pause is shortened by chance to between half and all of it, so that targets and
//!    instances do not come back together.
//! 2. Five failures in a row are the target's and not an event's: then it is left alone as a whole, from 5 seconds to 5
//!    minutes, and what comes next is the try that shows whether it is back: an event that it has not met yet, if there is
//!    one. Once it is back, all that failed meanwhile is due at once. An event that was refused while others were taken
//!    counts for itself only: it never holds up the others.
//! 3. When an event was tried for three days: had the target taken nothing at all since, the target is disabled, and the
//!    event waits until it is enabled. Otherwise the event is given up, and can be asked for anew.
//! 4. A target that answers 410 is gone and disabled at once (Standard Webhooks 1.0.0, "Deliverability"). One that says
//!    when to come again (`Retry-After`) is left alone until then, for a day at most.

use chrono::{DateTime, Duration, Utc};

use super::DisabledReason;
use crate::outbound::webhooks::{Outcome, Tried};
use crate::store::deliveries::{Standing, Then, Waiting};
use crate::store::webhooks::WebhookRow;

/// How long an event is tried.
pub const TRIED_FOR: Duration = Duration::days(3);
/// Pause after the first failure of an event, and the longest.
const PAUSE_FIRST: Duration = Duration::seconds(5);
const PAUSE_MOST: Duration = Duration::hours(6);
/// By what a pause grows.
const GROWTH: i32 = 4;
/// Failures in a row from which on a target is left alone as a whole.
pub const FAILURES_OF_TARGET: i64 = 5;
/// The first time for which it is left alone, and the longest.
const HOLD_FIRST: Duration = Duration::seconds(5);
const HOLD_MOST: Duration = Duration::minutes(5);
/// Longest that a target may ask to be left alone.
const ASKED_MOST: Duration = Duration::days(1);
/// The status of a target that is gone for good.
const GONE: u16 = 410;

/// What follows from a try.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Verdict {
    pub(super) then: Then,
    pub(super) standing: Standing,
    /// Why the target is told no more.
    pub(super) disabled: Option<DisabledReason>,
    /// Whether it is back after it was left alone.
    pub(super) is_back: bool,
}

/// Between half of a pause and all of it; `share` is by chance, from 0 to 511.
fn jittered(pause: Duration, share: u32) -> Duration {
    Duration::milliseconds(pause.num_milliseconds() * i64::from(512 + share.min(512)) / 1024)
}

fn grown(first: Duration, growth: i32, times: i64, most: Duration) -> Duration {
    let mut pause = first;
    for _ in 0..times {
        pause = pause * growth;
        if pause >= most {
            return most;
        }
    }
    pause
}

/// What follows from a try to tell `target` of the event at `position`, which was tried as `before` says; the try began at
/// `began` and is over `now`.
pub(super) fn after(
    target: &WebhookRow,
    position: i64,
    before: Option<Waiting>,
    tried: &Tried,
    (began, now): (DateTime<Utc>, DateTime<Utc>),
    leased_until: DateTime<Utc>,
    share: u32,
) -> Verdict {
    let position = position.max(target.position);
    if tried.outcome == Outcome::Delivered {
        let standing = Standing { position, failures: 0, failing_since: None, held_until: None, leased_until };
        let is_back = target.failures >= FAILURES_OF_TARGET;
        return Verdict { then: Then::Done, standing, disabled: None, is_back };
    }
    let asked = tried.retry_after.and_then(|wait| Duration::from_std(wait).ok()).map(|wait| wait.min(ASKED_MOST));
    // What begins anew is tried for three days from its first try on, as all else is.
    let (attempts, since) =
        before.filter(|before| before.attempts > 0).map_or((0, began), |before| (before.attempts, before.since));
    // An event that failed while the target took others is refused for itself and says nothing of the target.
    let of_event = attempts > 0 && target.failing_since.is_none_or(|failing| since < failing);
    let pause = jittered(grown(PAUSE_FIRST, GROWTH, attempts, PAUSE_MOST), share).max(asked.unwrap_or_default());
    let next_at = now + pause;
    let its_position = before.map_or(position, |before| before.position);
    let waiting = Waiting { position: its_position, attempts: attempts + 1, since, next_at };
    let failures = target.failures + i64::from(!of_event);
    let failing_since = if of_event { target.failing_since } else { Some(target.failing_since.unwrap_or(began)) };
    let held = (!of_event && failures >= FAILURES_OF_TARGET)
        .then(|| jittered(grown(HOLD_FIRST, 2, failures - FAILURES_OF_TARGET, HOLD_MOST), share));
    let held_until = held.max(asked).map(|pause| now + pause);
    let standing = Standing { position, failures, failing_since, held_until, leased_until };
    let over = next_at > since + TRIED_FOR;
    let (then, disabled) = if tried.status == Some(GONE) {
        (Then::Again(waiting), Some(DisabledReason::Gone))
    } else if over && failing_since.is_some_and(|failing| failing <= since) {
        (Then::Again(waiting), Some(DisabledReason::Failing))
    } else if over {
        (Then::GivenUp(waiting), None)
    } else {
        (Then::Again(waiting), None)
    };
    Verdict { then, standing, disabled, is_back: false }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::webhooks::SigningSecret;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    fn target() -> WebhookRow {
        let then = at("2026-11-25T12:00:00Z");
        WebhookRow {
            id: uuid::Uuid::nil(),
            url: "https://stock.example/".to_owned(),
            description: None,
            event_types: Vec::new(),
            enabled: true,
            disabled_at: None,
            disabled_reason: None,
            secret: SigningSecret::new([0; 32]),
            earlier: None,
            created_at: then,
            created_by: String::new(),
            updated_at: then,
            changed_by: String::new(),
            version: 1,
            position: 0,
            failures: 0,
            failing_since: None,
            held_until: None,
        }
    }

    fn tried(outcome: Outcome, status: Option<u16>) -> Tried {
        Tried { outcome, status, error: None, retry_after: None, took: std::time::Duration::ZERO }
    }

    /// Tries one event until nothing more is tried; the pauses, and what came of it.
    fn until_the_end(share: u32, others_arrive: bool) -> (Vec<Duration>, Verdict) {
        let mut target = target();
        let mut now = at("2026-11-25T12:00:00Z");
        let (mut before, mut pauses) = (None, Vec::new());
        loop {
            let failed = tried(Outcome::WrongStatus, Some(500));
            let verdict = after(&target, 7, before, &failed, (now, now), now, share);
            match verdict.then {
                Then::Again(waiting) if verdict.disabled.is_none() => {
                    pauses.push(waiting.next_at - now);
                    (now, before) = (waiting.next_at, Some(waiting));
                    target.failures = verdict.standing.failures;
                    target.failing_since = verdict.standing.failing_since;
                    if others_arrive {
                        (target.failures, target.failing_since) = (0, None);
                    }
                }
                _ => return (pauses, verdict),
            }
        }
    }

    #[test]
    fn pauses_grow_over_three_days_and_differ_by_chance() {
        let (longest, _) = until_the_end(512, false);
        let seconds: Vec<i64> = longest.iter().map(Duration::num_seconds).collect();
        assert_eq!(seconds[..8], [5, 20, 80, 320, 1280, 5120, 20480, 21600]);
        for share in [0, 100, 511] {
            let (pauses, _) = until_the_end(share, false);
            let whole: Duration = pauses.iter().sum();
            assert!(whole <= TRIED_FOR && whole > TRIED_FOR - PAUSE_MOST, "{whole}");
            for (pause, most) in pauses.iter().zip(&longest) {
                assert!(pause <= most && *pause * 2 >= *most - Duration::seconds(2), "{pause} {most}");
            }
        }
    }

    #[test]
    fn a_target_that_took_nothing_for_three_days_is_disabled_and_the_event_waits() {
        let (_, verdict) = until_the_end(300, false);
        assert_eq!(verdict.disabled, Some(DisabledReason::Failing));
        assert!(matches!(verdict.then, Then::Again(_)));
    }

    #[test]
    fn an_event_that_alone_is_refused_for_three_days_is_given_up_and_the_target_goes_on() {
        let (_, verdict) = until_the_end(300, true);
        assert_eq!(verdict.disabled, None);
        assert!(matches!(verdict.then, Then::GivenUp(_)));
    }

    #[test]
    fn five_failures_in_a_row_hold_the_target_back_until_one_try_succeeds() {
        let now = at("2026-11-25T12:00:00Z");
        let mut target = target();
        let mut holds = Vec::new();
        for position in 1..=14 {
            let failed = tried(Outcome::TimedOut, None);
            let verdict = after(&target, position, None, &failed, (now, now), now, 512);
            holds.push(verdict.standing.held_until.map(|until| (until - now).num_seconds()));
            target.failures = verdict.standing.failures;
            target.failing_since = verdict.standing.failing_since;
        }
        assert_eq!(holds[..6], [None, None, None, None, Some(5), Some(10)]);
        assert_eq!(holds[13], Some(300));
        let back = after(&target, 15, None, &tried(Outcome::Delivered, Some(204)), (now, now), now, 0);
        assert!(back.is_back && back.standing.failures == 0 && back.standing.held_until.is_none());
    }

    #[test]
    fn gone_is_disabled_at_once_and_a_target_is_left_alone_for_as_long_as_it_asks() {
        let now = at("2026-11-25T12:00:00Z");
        let gone = after(&target(), 1, None, &tried(Outcome::WrongStatus, Some(410)), (now, now), now, 0);
        assert_eq!(gone.disabled, Some(DisabledReason::Gone));
        for (asked_s, expected_s) in [(60, 60), (600_000, 86_400)] {
            let wait = Some(std::time::Duration::from_secs(asked_s));
            let busy = Tried { retry_after: wait, ..tried(Outcome::WrongStatus, Some(503)) };
            let verdict = after(&target(), 1, None, &busy, (now, now), now, 0);
            let until = now + Duration::seconds(expected_s);
            assert_eq!(verdict.standing.held_until, Some(until));
            assert!(matches!(verdict.then, Then::Again(waiting) if waiting.next_at == until));
        }
    }
}

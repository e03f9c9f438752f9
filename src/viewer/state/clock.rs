//! Which day and which moment is it? The one place where the window's state reads the clock.

use crate::light::Moment;
use crate::place::Day;

/// The day that the computer's clock shows; nothing where it shows none.
pub(super) fn today() -> Option<Day> {
    Day::of_unix_time(std::time::UNIX_EPOCH.elapsed().ok()?)
}

/// The moment that the computer's clock shows; nothing where it shows none.
pub(super) fn now() -> Option<Moment> {
    let since = std::time::UNIX_EPOCH.elapsed().ok()?;
    Some(Moment::of_unix_ms(i64::try_from(since.as_millis()).ok()?))
}

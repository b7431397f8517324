//! From remaining reference kilometres to days: how much a bike is used, when the limit comes, what to do.
//!
//! Days are counted from "today"; turning them into dates is the caller's business, as this crate has no
//! calendar.

mod advice;
mod daily_use;
mod days;
mod distance;
mod history;
mod level;
mod pattern;
mod two_way;
mod usual_year;
mod wave;

pub(crate) use advice::MORE_LIKELY_THAN_NOT;
pub use advice::{Advice, AdviceInput, Reason, advise};
pub use daily_use::{DailyUse, SEASON_DAYS, UseForecast, WINDOW_DAYS, YEARS_DIFFER};
pub use days::{HORIZON_DAYS, LifeCurve};
pub use distance::DistancesAhead;
pub use history::UseHistory;
pub use usual_year::UsualYear;

//! What the pages of drills, survey, foredeck and marks say.

use super::Word;
use journal::survey::About;
use procedure::in_date::DateState;
pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/forward.rs"));
}

/// Says how somebody stands to a drill.
pub const fn date_state(state: DateState) -> Word {
    match state {
        DateState::Never => DATE_NEVER,
        DateState::Past => DATE_PAST,
        DateState::NotSet => DATE_NOT_SET,
        DateState::Soon => DATE_SOON,
        DateState::In => DATE_IN,
    }
}

/// Names a part of the survey pack.
pub const fn about(about: About) -> Word {
    match about {
        About::Register => ABOUT_REGISTER,
        About::Certificates => ABOUT_CERTIFICATES,
        About::Dates => ABOUT_DATES,
        About::Service => ABOUT_SERVICE,
        About::Rounds => ABOUT_ROUNDS,
        About::Drills => ABOUT_DRILLS,
        About::Defects => ABOUT_DEFECTS,
        About::Limits => ABOUT_LIMITS,
    }
}

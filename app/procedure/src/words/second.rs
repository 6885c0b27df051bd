//! What the engine says of a second person's signature.

pub(crate) const SECOND_WANTED: &str = "a second person must sign";
pub(crate) const DONE_SECOND_WANTED: &str = "done; wants a second signature";

pub(crate) fn second_first(instruction: &str) -> String {
    format!("first the second signature of: {instruction}")
}

/// Says an end, and the steps that lacked a second signature then.
pub(crate) fn without_second(said: String, steps: &[String]) -> String {
    if steps.is_empty() {
        return said;
    }
    format!(
        "{said}; without the second signature of: {}",
        steps.join("; ")
    )
}

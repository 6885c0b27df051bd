//! What an answer over HTTP is worth: pure, and compiled natively too, to be tested.

/// What the browser says went wrong.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct BrowserError(pub String);

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum HttpError {
    /// Nothing came back: out of range, or it took too long.
    #[error("the ship does not answer")]
    NoAnswer(#[source] BrowserError),
    /// Something else than the ship answered, for instance a hotel's log-in page.
    #[error("something else than the ship answered at this address")]
    NotTheShip,
    /// The part of the program that asks could not be had; why, in words.
    #[error("{0}")]
    NotHere(String),
    /// The server said no, in words.
    #[error("{message}")]
    Refused {
        /// HTTP status.
        status: u16,
        /// What it said.
        message: String,
    },
}

impl HttpError {
    /// Says whether the same request may be answered otherwise later: always, unless the server understood it and
    /// said no.
    pub fn is_worth_retry(&self) -> bool {
        match self {
            Self::NoAnswer(_) | Self::NotTheShip | Self::NotHere(_) => true,
            Self::Refused { status, .. } => matches!(status, 408 | 425 | 429 | 500..=599),
        }
    }
}

/// Returns the body of an answer that is the server's own.
///
/// # Errors
/// [`HttpError::Refused`] if its status is no success, [`HttpError::NotTheShip`] if it is a page.
pub fn body_of(status: u16, media_type: &str, bytes: Vec<u8>) -> Result<Vec<u8>, HttpError> {
    if !(200..300).contains(&status) {
        let message = match String::from_utf8(bytes) {
            Ok(text) if media_type.starts_with("text/plain") => text,
            _ => format!("the server answered {status}"),
        };
        return Err(HttpError::Refused { status, message });
    }
    if media_type.starts_with("text/html") {
        return Err(HttpError::NotTheShip);
    }
    Ok(bytes)
}

/// What became of a photograph that was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PhotoSent {
    /// It is aboard.
    Aboard,
    /// It is to be sent again: out of range, or the ship has not taken up the record yet that names it.
    Later,
    /// The ship does not take it; why, in words.
    Refused(String),
}

/// Returns what the answer to a photograph means.
pub fn photo_sent(answer: Result<(), HttpError>) -> PhotoSent {
    match answer {
        Ok(()) => PhotoSent::Aboard,
        Err(HttpError::Refused { status: 404, .. }) => PhotoSent::Later,
        Err(error) if error.is_worth_retry() => PhotoSent::Later,
        Err(error) => PhotoSent::Refused(error.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(status: u16, message: &str) -> HttpError {
        HttpError::Refused {
            status,
            message: message.to_owned(),
        }
    }

    #[test]
    fn only_the_servers_own_words_are_shown_and_no_page_is_taken_for_an_answer() {
        let rows = [
            (200, "application/json", "{}", Ok(b"{}".to_vec())),
            (204, "", "", Ok(Vec::new())),
            (
                200,
                "text/html; charset=utf-8",
                "<html>",
                Err(HttpError::NotTheShip),
            ),
            (
                403,
                "text/plain; charset=utf-8",
                "not yours",
                Err(refused(403, "not yours")),
            ),
            (
                502,
                "text/html",
                "<html>",
                Err(refused(502, "the server answered 502")),
            ),
            (302, "", "", Err(refused(302, "the server answered 302"))),
        ];
        for (status, media_type, body, expected) in rows {
            let found = body_of(status, media_type, body.as_bytes().to_vec());
            assert_eq!(found, expected, "{status} {media_type}");
        }
    }

    #[test]
    fn a_photograph_is_sent_again_unless_the_ship_said_no() {
        let gone = HttpError::NoAnswer(BrowserError("TypeError".to_owned()));
        let rows = [
            (Ok(()), PhotoSent::Aboard),
            (Err(gone), PhotoSent::Later),
            (Err(HttpError::NotTheShip), PhotoSent::Later),
            (Err(refused(404, "unknown")), PhotoSent::Later),
            (Err(refused(429, "too many")), PhotoSent::Later),
            (Err(refused(503, "busy")), PhotoSent::Later),
            (
                Err(refused(413, "too large")),
                PhotoSent::Refused("too large".to_owned()),
            ),
            (
                Err(refused(403, "not yours")),
                PhotoSent::Refused("not yours".to_owned()),
            ),
        ];
        for (answer, expected) in rows {
            assert_eq!(photo_sent(answer.clone()), expected, "{answer:?}");
        }
    }
}

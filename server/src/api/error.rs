//! How what went wrong is told over HTTP: a status, and one line of words.

use crate::codes::CodeError;
use crate::enrol::EnrolError;
use crate::fleet::FleetError;
use crate::read_api::ReadError;
use crate::session::{Forbidden, SessionError};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use storage::StorageError;

/// What went wrong, as the caller is told.
#[derive(Debug)]
pub struct ApiError {
    status: StatusCode,
    words: String,
}

impl ApiError {
    /// The question is not right.
    pub fn bad(words: impl Into<String>) -> Self {
        Self {
            status: StatusCode::BAD_REQUEST,
            words: words.into(),
        }
    }

    /// What is not so, with the status that says it to a program.
    pub fn with(status: StatusCode, words: impl Into<String>) -> Self {
        Self {
            status,
            words: words.into(),
        }
    }

    fn new(status: StatusCode, error: &dyn std::error::Error) -> Self {
        if status.is_server_error() {
            tracing::error!(%error, source = ?error.source(), "a request failed");
        }
        Self {
            status,
            words: error.to_string(),
        }
    }
}

impl std::fmt::Display for ApiError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.words)
    }
}

impl IntoResponse for ApiError {
    fn into_response(self) -> Response {
        let head = [(header::CONTENT_TYPE, "text/plain; charset=utf-8")];
        (self.status, head, self.words).into_response()
    }
}

fn fleet_status(error: &FleetError) -> StatusCode {
    match error {
        FleetError::Storage(StorageError::Full) => StatusCode::INSUFFICIENT_STORAGE,
        FleetError::Storage(StorageError::Closed) => StatusCode::SERVICE_UNAVAILABLE,
        FleetError::Storage(_) | FleetError::Folder { .. } => StatusCode::INTERNAL_SERVER_ERROR,
        FleetError::TooLarge { .. } => StatusCode::PAYLOAD_TOO_LARGE,
        FleetError::NoVessel(_) | FleetError::NoShip => StatusCode::NOT_FOUND,
        FleetError::Refused(_) | FleetError::Checkpoint(_) | FleetError::Unjudged(_) => {
            StatusCode::BAD_REQUEST
        }
        FleetError::Lacks(_) => StatusCode::CONFLICT,
    }
}

impl From<FleetError> for ApiError {
    fn from(error: FleetError) -> Self {
        Self::new(fleet_status(&error), &error)
    }
}

impl From<ReadError> for ApiError {
    fn from(error: ReadError) -> Self {
        let status = match &error {
            ReadError::NoRun(_) | ReadError::NoProcedure(_) | ReadError::NoShip => {
                StatusCode::NOT_FOUND
            }
            ReadError::Fleet(inner) => fleet_status(inner),
        };
        Self::new(status, &error)
    }
}

impl From<Forbidden> for ApiError {
    fn from(error: Forbidden) -> Self {
        Self::new(StatusCode::FORBIDDEN, &error)
    }
}

impl From<EnrolError> for ApiError {
    fn from(error: EnrolError) -> Self {
        let status = match &error {
            EnrolError::NoShip => StatusCode::NOT_FOUND,
            EnrolError::WrongCode => StatusCode::FORBIDDEN,
            EnrolError::TooMany => StatusCode::TOO_MANY_REQUESTS,
            EnrolError::NobodyCalled(_)
            | EnrolError::OtherPerson
            | EnrolError::HasLeft(_)
            | EnrolError::BadKey(_)
            | EnrolError::Nameless
            | EnrolError::Crew(_) => StatusCode::BAD_REQUEST,
            EnrolError::Codes(CodeError::TooMany) => StatusCode::CONFLICT,
            EnrolError::Codes(_) => StatusCode::INTERNAL_SERVER_ERROR,
            EnrolError::Fleet(inner) => fleet_status(inner),
        };
        Self::new(status, &error)
    }
}

impl From<SessionError> for ApiError {
    fn from(error: SessionError) -> Self {
        Self::new(StatusCode::FORBIDDEN, &error)
    }
}

//! How what went wrong is told over HTTP: a status, and one line of words.

use crate::codes::CodeError;
use crate::desk::DeskError;
use crate::enrol::EnrolError;
use crate::fleet::FleetError;
use crate::session::SessionError;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use storage::StorageError;

/// What went wrong, as the asker is told.
#[derive(Debug)]
pub struct Fault {
    status: StatusCode,
    words: String,
}

impl Fault {
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

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.words)
    }
}

impl IntoResponse for Fault {
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

impl From<FleetError> for Fault {
    fn from(error: FleetError) -> Self {
        Self::new(fleet_status(&error), &error)
    }
}

impl From<DeskError> for Fault {
    fn from(error: DeskError) -> Self {
        let status = match &error {
            DeskError::NoSuchPath(_)
            | DeskError::NoRun(_)
            | DeskError::NoProcedure(_)
            | DeskError::NoShip => StatusCode::NOT_FOUND,
            DeskError::BadName(_) => StatusCode::BAD_REQUEST,
            DeskError::MayNot(fault) => fault.status,
            DeskError::Fleet(inner) => fleet_status(inner),
            DeskError::Unwritable(_) => StatusCode::INTERNAL_SERVER_ERROR,
        };
        Self::new(status, &error)
    }
}

impl From<EnrolError> for Fault {
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

impl From<SessionError> for Fault {
    fn from(error: SessionError) -> Self {
        Self::new(StatusCode::FORBIDDEN, &error)
    }
}

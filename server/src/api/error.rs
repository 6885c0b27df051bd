//! How what went wrong is told over HTTP: a status, and one line of words.

use crate::codes::CodeError;
use crate::disk::is_out_of_reach;
use crate::enrol::EnrolError;
use crate::fleet::FleetError;
use crate::read_api::ReadError;
use crate::session::{ActError, Forbidden, SessionError};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use journal::auth_messages::WITHDRAWAL_HEADER;
use storage::StorageError;

/// What went wrong with a request: the caller is told its words, and a status that says it to a program.
#[derive(Debug, thiserror::Error)]
pub enum ApiError {
    /// The question, or what it asks for, is not right.
    #[error("{message}")]
    Told {
        /// What it is to a program.
        status: StatusCode,
        /// What it is to a person.
        message: String,
    },
    /// The caller lacks a permission.
    #[error(transparent)]
    Forbidden(#[from] Forbidden),
    /// Signing in failed.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// The request is not signed as it must be.
    #[error(transparent)]
    Act(#[from] ActError),
    /// Enrolling, or changing the crew, failed.
    #[error(transparent)]
    Enrol(#[from] EnrolError),
    /// There is nothing to read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The records failed.
    #[error(transparent)]
    Fleet(#[from] FleetError),
}

impl ApiError {
    /// The question is not right.
    pub fn bad(message: impl Into<String>) -> Self {
        Self::with(StatusCode::BAD_REQUEST, message)
    }

    /// What is not so, with the status that says it to a program.
    pub fn with(status: StatusCode, message: impl Into<String>) -> Self {
        let message = message.into();
        Self::Told { status, message }
    }

    /// Returns the status of the answer. Every error has its line here.
    fn status(&self) -> StatusCode {
        match self {
            Self::Told { status, .. } => *status,
            Self::Forbidden(Forbidden(_))
            | Self::Act(ActError::Unsigned | ActError::Signature | ActError::Challenge(_))
            | Self::Session(
                SessionError::Challenge
                | SessionError::OtherAddress { .. }
                | SessionError::Unknown(_)
                | SessionError::Signature
                | SessionError::Ended(_),
            )
            | Self::Enrol(EnrolError::WrongCode) => StatusCode::FORBIDDEN,
            Self::Enrol(EnrolError::TooMany) => StatusCode::TOO_MANY_REQUESTS,
            Self::Enrol(
                EnrolError::NobodyCalled(_)
                | EnrolError::OtherPerson
                | EnrolError::HasLeft(_)
                | EnrolError::BadKey(_)
                | EnrolError::Nameless
                | EnrolError::Crew(_),
            ) => StatusCode::BAD_REQUEST,
            Self::Enrol(EnrolError::Codes(CodeError::TooMany)) => StatusCode::CONFLICT,
            Self::Enrol(EnrolError::Codes(CodeError::File { source, .. }))
                if is_out_of_reach(source) =>
            {
                StatusCode::INSUFFICIENT_STORAGE
            }
            Self::Enrol(EnrolError::Codes(CodeError::File { .. } | CodeError::Random(_))) => {
                StatusCode::INTERNAL_SERVER_ERROR
            }
            Self::Enrol(EnrolError::NoShip)
            | Self::Read(
                ReadError::NoRun(_)
                | ReadError::NoProcedure(_)
                | ReadError::NoItem(_)
                | ReadError::NoShip,
            ) => StatusCode::NOT_FOUND,
            Self::Fleet(error)
            | Self::Read(ReadError::Fleet(error))
            | Self::Enrol(EnrolError::Fleet(error)) => match error {
                FleetError::Storage(StorageError::Full | StorageError::Unwritable(_)) => {
                    StatusCode::INSUFFICIENT_STORAGE
                }
                FleetError::Folder { source, .. } if is_out_of_reach(source) => {
                    StatusCode::INSUFFICIENT_STORAGE
                }
                FleetError::Storage(StorageError::Closed | StorageError::Away(_)) => {
                    StatusCode::SERVICE_UNAVAILABLE
                }
                FleetError::Storage(
                    StorageError::TooNew { .. }
                    | StorageError::BadAddress(_)
                    | StorageError::Corrupt(_)
                    | StorageError::Damaged(_)
                    | StorageError::Backend(_),
                )
                | FleetError::Folder { .. } => StatusCode::INTERNAL_SERVER_ERROR,
                FleetError::TooLarge { .. } => StatusCode::PAYLOAD_TOO_LARGE,
                FleetError::NoVessel(_) | FleetError::NoShip => StatusCode::NOT_FOUND,
                FleetError::Refused(_) | FleetError::Checkpoint(_) | FleetError::Unjudged(_) => {
                    StatusCode::BAD_REQUEST
                }
                FleetError::Lacks(_) => StatusCode::CONFLICT,
            },
        }
    }
}

impl IntoResponse for ApiError {
    fn into_response(self) -> Response {
        let status = self.status();
        if status.is_server_error() {
            tracing::error!(error = %told(&self), "a request failed");
        }
        let head = [(header::CONTENT_TYPE, "text/plain; charset=utf-8")];
        let mut response = (status, head, self.to_string()).into_response();
        if let Self::Session(SessionError::Ended(not_held)) = &self
            && let Some(record) = &not_held.withdrawal
            && let Ok(value) = HeaderValue::from_str(&record::hex::encode(record))
        {
            let name = HeaderName::from_static(WITHDRAWAL_HEADER);
            response.headers_mut().insert(name, value);
        }
        response
    }
}

/// Returns an error in words, with what caused it.
pub fn told(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        text = format!("{text}: {error}");
        cause = error.source();
    }
    text
}

//! The router of the interface, built from the table of addresses: a handler is mounted at an address and
//! nowhere else, after the address's gate, with what the address says is sent and answered.

use super::error::ApiError;
use crate::fleet::FleetError;
use crate::middleware;
use crate::router::App;
use crate::session::{Caller, unknown};
use axum::Router;
use axum::body::Bytes;
use axum::extract::{FromRequest as _, Query, RawPathParams, State};
use axum::extract::{FromRequestParts as _, Request};
use axum::http::request::Parts;
use axum::http::{StatusCode, header};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use axum::routing::{MethodFilter, on};
use journal::access::Permission;
use journal::address::{
    Address, Cbor, CborSequence, Form, Gate, Json, JsonLines, Method, Nothing, Octets, OpenAddress,
    Row, Whose,
};
use journal::address::{Csv, Events, Jpeg, Text};
use record::VesselId;
use record::sync::{Have, HaveReply, PullRequest, PushReply};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::marker::PhantomData;
use std::str::FromStr;

/// What can be sent to an address.
pub trait Incoming: Form {
    /// What is read from the body.
    type Value: Send + 'static;

    /// Reads the body.
    ///
    /// # Errors
    /// [`ApiError`] with status 400 if it is not in this form.
    fn read(body: Bytes) -> Result<Self::Value, ApiError>;

    /// Returns the vessel whose records the body asks for, where it names one.
    fn vessel(_: &Self::Value) -> Option<VesselId> {
        None
    }
}

impl Incoming for Nothing {
    type Value = ();

    fn read(_: Bytes) -> Result<(), ApiError> {
        Ok(())
    }
}

impl<T: DeserializeOwned + Send + 'static> Incoming for Json<T> {
    type Value = T;

    fn read(body: Bytes) -> Result<T, ApiError> {
        serde_json::from_slice(&body)
            .map_err(|error| ApiError::bad(format!("the question cannot be read: {error}")))
    }
}

impl Incoming for Cbor<Have> {
    type Value = Have;

    fn read(body: Bytes) -> Result<Have, ApiError> {
        Have::decode(&body).map_err(|refusal| ApiError::bad(refusal.to_string()))
    }

    fn vessel(have: &Have) -> Option<VesselId> {
        Some(have.vessel)
    }
}

impl Incoming for Cbor<PullRequest> {
    type Value = PullRequest;

    fn read(body: Bytes) -> Result<PullRequest, ApiError> {
        PullRequest::decode(&body).map_err(|refusal| ApiError::bad(refusal.to_string()))
    }

    fn vessel(request: &PullRequest) -> Option<VesselId> {
        Some(request.vessel)
    }
}

impl Incoming for JsonLines {
    type Value = String;

    fn read(body: Bytes) -> Result<String, ApiError> {
        String::from_utf8(body.into()).map_err(|_| ApiError::bad("the cases are not UTF-8 text"))
    }
}

/// Bodies that the handler reads itself.
macro_rules! raw {
    ($($form:ty),+) => {
        $(impl Incoming for $form {
            type Value = Bytes;

            fn read(body: Bytes) -> Result<Bytes, ApiError> {
                Ok(body)
            }
        })+
    };
}
raw!(CborSequence, Jpeg, Octets);

/// An answer in the form `A`.
#[derive(Debug)]
pub struct Reply<A> {
    response: Response,
    form: PhantomData<fn() -> A>,
}

impl<A> Reply<A> {
    fn new(response: Response) -> Self {
        let form = PhantomData;
        Self { response, form }
    }

    /// Puts a header in; one of the same name is replaced.
    #[must_use]
    pub fn with(mut self, name: header::HeaderName, value: &str) -> Self {
        // Every value here is a name, a number or fixed text; one that is no header is left out.
        if let Ok(value) = value.parse() {
            self.response.headers_mut().insert(name, value);
        }
        self
    }
}

impl<A: Form> Reply<A> {
    fn bytes(bytes: impl Into<axum::body::Body>) -> Self {
        let head = [
            (header::CONTENT_TYPE, A::MEDIA),
            (header::CACHE_CONTROL, "no-store"),
        ];
        Self::new((head, bytes.into()).into_response())
    }
}

impl Reply<Nothing> {
    /// Says that it is done.
    pub fn done() -> Self {
        Self::new(StatusCode::NO_CONTENT.into_response())
    }
}

impl<T: Serialize> Reply<Json<T>> {
    /// Answers with a value.
    ///
    /// # Errors
    /// [`ApiError`] with status 500 if it cannot be written as JSON.
    pub fn json(value: &T) -> Result<Self, ApiError> {
        let text = serde_json::to_vec(value);
        let text = text.map_err(|error| {
            ApiError::with(StatusCode::INTERNAL_SERVER_ERROR, error.to_string())
        })?;
        Ok(Self::bytes(text))
    }
}

impl Reply<Cbor<HaveReply>> {
    /// Answers with a message of sync.
    pub fn message(reply: &HaveReply) -> Self {
        Self::bytes(reply.encode())
    }
}

impl Reply<Cbor<PushReply>> {
    /// Answers with a message of sync.
    pub fn message(reply: &PushReply) -> Self {
        Self::bytes(reply.encode())
    }
}

impl Reply<CborSequence> {
    /// Answers with records.
    pub fn records(bytes: Vec<u8>) -> Self {
        Self::bytes(bytes)
    }
}

impl Reply<Jpeg> {
    /// Answers with a photograph.
    pub fn photo(bytes: Vec<u8>) -> Self {
        Self::bytes(bytes)
    }
}

/// Answers that are text.
macro_rules! text {
    ($($form:ty),+) => {
        $(impl Reply<$form> {
            /// Answers with text.
            pub fn text(text: String) -> Self {
                Self::bytes(text)
            }
        })+
    };
}
text!(Text, Csv, JsonLines);

impl<T> Reply<Events<T>> {
    /// Answers with a stream of events.
    pub fn events(stream: impl IntoResponse) -> Self {
        Self::new(stream.into_response())
    }
}

/// A request to an open address.
#[derive(Debug)]
pub struct OpenCall<B> {
    /// What was sent.
    pub body: B,
    /// The request without its body.
    pub parts: Parts,
}

/// A request that has passed its address's gate.
#[derive(Debug)]
pub struct Call<const N: usize, B> {
    /// Who asks.
    pub caller: Caller,
    /// Whose records the caller has the permission for.
    pub vessel: VesselId,
    /// The path's parameters.
    pub path: [String; N],
    /// What was sent.
    pub body: B,
    /// The request without its body.
    pub parts: Parts,
}

impl<const N: usize, B> Call<N, B> {
    /// Reads what stands after the path.
    ///
    /// # Errors
    /// [`ApiError`] with status 400 if it cannot be read.
    pub fn query<T: DeserializeOwned>(&self) -> Result<T, ApiError> {
        let query = Query::<T>::try_from_uri(&self.parts.uri);
        query
            .map(|Query(query)| query)
            .map_err(|error| ApiError::bad(error.body_text()))
    }
}

/// Reads a vessel's or run's name in a path.
///
/// # Errors
/// [`ApiError`] with status 400 if it is none.
pub fn named<T: FromStr>(text: &str) -> Result<T, ApiError> {
    let read = text.parse();
    read.map_err(|_| ApiError::bad(format!("{text:?} is no vessel's or run's name")))
}

/// Lets a caller through who has what the gate asks for; returns the vessel for whose records they have it,
/// or `None` where only the body says which.
///
/// # Errors
/// [`ApiError`] with status 403 if they have not, 404 if this server has no vessel of its own, 400 if the
/// path names none.
pub fn pass(
    gate: Gate,
    caller: &Caller,
    own: Option<VesselId>,
    path: &[String],
) -> Result<Option<VesselId>, ApiError> {
    let (permission, vessel) = match gate {
        Gate::SignedIn => return Ok(Some(caller.vessel)),
        Gate::Needs(_, Whose::BodyVessel) => return Ok(None),
        Gate::Needs(permission, Whose::OwnVessel) => (permission, own.ok_or(FleetError::NoShip)?),
        Gate::Needs(permission, Whose::CallersVessel | Whose::EachVessel) => {
            (permission, caller.vessel)
        }
        Gate::Needs(permission, Whose::PathVessel) => {
            (permission, named(path.first().map_or("", String::as_str))?)
        }
    };
    caller.require(permission, vessel, own)?;
    Ok(Some(vessel))
}

async fn parameters<const N: usize>(parts: &mut Parts, app: &App) -> Result<[String; N], ApiError> {
    let found = RawPathParams::from_request_parts(parts, app).await;
    let found = found.map_err(|error| ApiError::bad(error.body_text()))?;
    let values: Vec<String> = found.iter().map(|(_, value)| value.to_owned()).collect();
    values
        .try_into()
        .map_err(|_| ApiError::bad("the path has other parameters than its address"))
}

async fn admit<const N: usize, Q: Incoming>(
    app: &App,
    gate: Gate,
    request: Request,
) -> Result<Call<N, Q::Value>, Response> {
    let (mut parts, body) = request.into_parts();
    let caller = parts.extensions.get::<Caller>().cloned();
    let caller = caller.ok_or_else(|| unknown().into_response())?;
    let own = app.fleet.own_vessel();
    let path = parameters(&mut parts, app)
        .await
        .map_err(IntoResponse::into_response)?;
    let vessel = pass(gate, &caller, own, &path).map_err(IntoResponse::into_response)?;
    let body = Bytes::from_request(Request::from_parts(parts.clone(), body), app).await;
    let body = Q::read(body.map_err(IntoResponse::into_response)?);
    let body = body.map_err(IntoResponse::into_response)?;
    let vessel = match (vessel, gate, Q::vessel(&body)) {
        (Some(vessel), ..) => vessel,
        (None, Gate::Needs(permission, _), Some(vessel)) => {
            let allowed = caller.require(permission, vessel, own);
            allowed.map_err(|error| ApiError::from(error).into_response())?;
            vessel
        }
        // A body that names no vessel opens nobody's records.
        _ => {
            return Err(ApiError::from(crate::session::Forbidden(Permission::Read)).into_response());
        }
    };
    Ok(Call {
        caller,
        vessel,
        path,
        body,
        parts,
    })
}

const fn filter(method: Method) -> MethodFilter {
    match method {
        Method::Get => MethodFilter::GET,
        Method::Post => MethodFilter::POST,
        Method::Put => MethodFilter::PUT,
        Method::Delete => MethodFilter::DELETE,
    }
}

/// A part of the interface: handlers at their addresses.
#[derive(Debug, Default)]
pub struct Routes {
    gated: Router<App>,
    open: Router<App>,
    rows: Vec<Row>,
}

impl Routes {
    /// Mounts a handler at an address for callers who have signed in: it is called for those who pass the
    /// address's gate, with the vessel for whose records they did.
    #[must_use]
    pub fn on<const N: usize, Q, A, F, Fut>(
        mut self,
        address: &Address<N, Q, A>,
        handler: F,
    ) -> Self
    where
        Q: Incoming,
        A: Form,
        F: Fn(App, Call<N, Q::Value>) -> Fut + Clone + Send + Sync + 'static,
        Fut: Future<Output = Result<Reply<A>, ApiError>> + Send,
    {
        let gate = address.who();
        let serve = async move |State(app): State<App>, request: Request| {
            let call = admit::<N, Q>(&app, gate, request).await?;
            let reply = handler(app, call).await;
            reply
                .map(|reply| reply.response)
                .map_err(IntoResponse::into_response)
        };
        self.rows.push(address.row());
        self.gated = self
            .gated
            .route(address.path(), on(filter(address.method()), serve));
        self
    }

    /// Mounts a handler at an address for anybody.
    #[must_use]
    pub fn open<Q, A, F, Fut>(mut self, address: &OpenAddress<0, Q, A>, handler: F) -> Self
    where
        Q: Incoming,
        A: Form,
        F: Fn(App, OpenCall<Q::Value>) -> Fut + Clone + Send + Sync + 'static,
        Fut: Future<Output = Result<Reply<A>, ApiError>> + Send,
    {
        let serve = async move |State(app): State<App>, request: Request| {
            let (parts, body) = request.into_parts();
            let body = Bytes::from_request(Request::from_parts(parts.clone(), body), &app).await;
            let body = Q::read(body.map_err(IntoResponse::into_response)?);
            let body = body.map_err(IntoResponse::into_response)?;
            let reply = handler(app, OpenCall { body, parts }).await;
            reply
                .map(|reply| reply.response)
                .map_err(IntoResponse::into_response)
        };
        self.rows.push(address.row());
        self.open = self
            .open
            .route(address.path(), on(filter(address.method()), serve));
        self
    }

    /// Returns the addresses at which something is mounted.
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// Makes the router: whoever asks at a gated address has signed in before its handler is reached.
    pub fn into_router(self, app: &App) -> Router<App> {
        let signed_in = from_fn_with_state(app.clone(), middleware::signed_in);
        self.gated.layer(signed_in).merge(self.open)
    }
}

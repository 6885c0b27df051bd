//! Asking the server: every request has an end, and every answer is looked at before it is believed.

use crate::answer::{BrowserError, body_of};
use crate::{later, session};
use journal::auth_messages::{ACT_CHALLENGE_HEADER, ACT_SIGNATURE_HEADER, WITHDRAWAL_HEADER};
use js_sys::{Array, Function, Reflect, Uint8Array};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{
    AbortSignal, Headers, ReadableStream, Request, RequestInit, RequestRedirect, Response,
};

/// Time for a small request, ms.
const PATIENCE_MS: u32 = 10_000;
/// More time for each 1,000 bytes that travel, ms: enough for 16 kbit/s.
const MS_PER_KB: u32 = 500;
/// Bodies from this size on are compressed where the browser can.
const WORTH_COMPRESSING: usize = 512;

/// What is packed already.
const JPEG: &str = "image/jpeg";

pub use crate::answer::HttpError;

/// What came back.
#[derive(Debug)]
pub struct Reply {
    /// The body.
    pub bytes: Vec<u8>,
}

impl Reply {
    /// Returns the body as text.
    ///
    /// # Errors
    /// [`HttpError::NotTheShip`] if it is none.
    pub fn text(self) -> Result<String, HttpError> {
        String::from_utf8(self.bytes).map_err(|_| HttpError::NotTheShip)
    }
}

/// Gets what stands at `path`.
///
/// # Errors
/// [`HttpError`] if the ship does not answer, or refuses.
pub async fn get(path: &str) -> Result<Reply, HttpError> {
    send("GET", path, None, "application/json").await
}

/// Sends JSON to `path`.
///
/// # Errors
/// [`HttpError`] if the ship does not answer, or refuses.
pub async fn post_json(path: &str, body: &str) -> Result<Reply, HttpError> {
    send("POST", path, Some(body.as_bytes()), "application/json").await
}

/// Sends CBOR to `path`.
///
/// # Errors
/// [`HttpError`] if the ship does not answer, or refuses.
pub async fn post_cbor(path: &str, body: &[u8]) -> Result<Reply, HttpError> {
    send("POST", path, Some(body), "application/cbor-seq").await
}

/// Puts a photograph at `path`.
///
/// # Errors
/// [`HttpError`] if the ship does not answer, or refuses.
pub async fn put_jpeg(path: &str, body: &[u8]) -> Result<Reply, HttpError> {
    send("PUT", path, Some(body), JPEG).await
}

/// Sends JSON to `path` as nobody in particular: for what stands before the door.
///
/// # Errors
/// [`HttpError`] if the ship does not answer, or refuses.
pub async fn post_openly(path: &str, body: &str) -> Result<Reply, HttpError> {
    send_once(
        "POST",
        path,
        Some(body.as_bytes()),
        "application/json",
        None,
    )
    .await
}

/// Sends JSON to `path` with the signature of the key over it.
///
/// # Errors
/// [`HttpError`] if the ship does not answer, or refuses.
pub async fn post_signed(path: &str, body: &str, act: &Signature) -> Result<Reply, HttpError> {
    let body = Some(body.as_bytes());
    send_once("POST", path, body, "application/json", Some(act)).await
}

/// What goes along with a request that the key itself signs.
#[derive(Debug)]
pub struct Signature {
    /// The ship's challenge.
    pub challenge: String,
    /// The signature, hexadecimal.
    pub signature: String,
}

async fn send(
    method: &'static str,
    path: &str,
    body: Option<&[u8]>,
    media_type: &'static str,
) -> Result<Reply, HttpError> {
    let body = body.map(<[u8]>::to_vec);
    match later::send(method, path.to_owned(), body, media_type).await {
        Ok(work) => work.await,
        Err(not_here) => Err(HttpError::NotHere(not_here.to_string())),
    }
}

/// Sends, and once more after signing in where the ship does not know who asks.
pub async fn send_signed_in(
    method: &str,
    path: &str,
    body: Option<&[u8]>,
    media_type: &str,
) -> Result<Reply, HttpError> {
    match send_once(method, path, body, media_type, None).await {
        Err(HttpError::Refused { status: 401, .. }) => {
            session::open().await?;
            send_once(method, path, body, media_type, None).await
        }
        done => done,
    }
}

async fn send_once(
    method: &str,
    path: &str,
    body: Option<&[u8]>,
    media_type: &str,
    act: Option<&Signature>,
) -> Result<Reply, HttpError> {
    let init = RequestInit::new();
    init.set_method(method);
    init.set_redirect(RequestRedirect::Error);
    let kilobytes = u32::try_from(body.map_or(0, <[u8]>::len) / 1000).unwrap_or(u32::MAX);
    let patience = PATIENCE_MS.saturating_add(kilobytes.saturating_mul(MS_PER_KB));
    init.set_signal(Some(&AbortSignal::timeout_with_u32(patience)));
    let headers = Headers::new().map_err(no_answer)?;
    if let Some(act) = act {
        let pairs = [
            (ACT_CHALLENGE_HEADER, &act.challenge),
            (ACT_SIGNATURE_HEADER, &act.signature),
        ];
        for (name, value) in pairs {
            headers.set(name, value).map_err(no_answer)?;
        }
    }
    if let Some(body) = body {
        headers.set("content-type", media_type).map_err(no_answer)?;
        let packed = if body.len() >= WORTH_COMPRESSING && media_type != JPEG {
            gzip(body).await
        } else {
            None
        };
        if packed.is_some() {
            headers.set("content-encoding", "gzip").map_err(no_answer)?;
        }
        let sent = packed.unwrap_or_else(|| Uint8Array::from(body));
        init.set_body(&sent);
    }
    init.set_headers(&headers);
    let request = Request::new_with_str_and_init(path, &init).map_err(no_answer)?;
    let window = web_sys::window().ok_or_else(|| no_answer(JsValue::from("no window")))?;
    let response: Response = JsFuture::from(window.fetch_with_request(&request))
        .await
        .map_err(no_answer)?
        .unchecked_into();
    if let Ok(Some(shown)) = response.headers().get(WITHDRAWAL_HEADER) {
        session::take_withdrawal(&shown).await;
    }
    let bytes = bytes_of(&response).await?;
    let said = response
        .headers()
        .get("content-type")
        .ok()
        .flatten()
        .unwrap_or_default();
    body_of(response.status(), &said, bytes).map(|bytes| Reply { bytes })
}

/// Keeps what the browser said of a request that was not answered.
fn no_answer(error: JsValue) -> HttpError {
    let name = |name: &str| Reflect::get(&error, &name.into()).ok()?.as_string();
    let said = match (name("name"), name("message")) {
        (None, None) => error.as_string().unwrap_or_default(),
        (name, message) => format!(
            "{} {}",
            name.unwrap_or_default(),
            message.unwrap_or_default()
        ),
    };
    HttpError::NoAnswer(BrowserError(said))
}

async fn bytes_of(response: &Response) -> Result<Vec<u8>, HttpError> {
    let promise = response.array_buffer().map_err(no_answer)?;
    let buffer = JsFuture::from(promise).await.map_err(no_answer)?;
    Ok(Uint8Array::new(&buffer).to_vec())
}

/// Compresses `bytes`, if this browser can.
async fn gzip(bytes: &[u8]) -> Option<Uint8Array> {
    // By name: the bindings for these classes are not stable yet, the classes are.
    let window = web_sys::window()?;
    let class: Function = Reflect::get(&window, &"CompressionStream".into())
        .ok()?
        .dyn_into()
        .ok()?;
    let packer = Reflect::construct(&class, &Array::of1(&"gzip".into())).ok()?;
    let parts = Array::of1(&Uint8Array::from(bytes));
    let stream = web_sys::Blob::new_with_u8_array_sequence(&parts)
        .ok()?
        .stream();
    let pipe: Function = Reflect::get(&stream, &"pipeThrough".into())
        .ok()?
        .dyn_into()
        .ok()?;
    let packed: ReadableStream = pipe.call1(&stream, &packer).ok()?.dyn_into().ok()?;
    let response = Response::new_with_opt_readable_stream(Some(&packed)).ok()?;
    let buffer = JsFuture::from(response.array_buffer().ok()?).await.ok()?;
    Some(Uint8Array::new(&buffer))
}

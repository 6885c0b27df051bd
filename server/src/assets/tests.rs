use super::*;
use flate2::Compression;
use flate2::write::GzEncoder;
use std::io::Write as _;

const SCRIPT: Asset = Asset {
    logical: "boot.js",
    path: "/assets/boot-0123456789abcdef.js",
    sha256: "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef",
    plain: Some(b"as it is"),
    brotli: Some(b"brotli"),
    gzip: Some(b"gzip"),
};

fn request(name: axum::http::HeaderName, value: &'static str) -> HeaderMap {
    HeaderMap::from_iter([(name, HeaderValue::from_static(value))])
}

async fn body(response: Response<Body>) -> Vec<u8> {
    axum::body::to_bytes(response.into_body(), 1024)
        .await
        .unwrap()
        .to_vec()
}

fn header(response: &Response<Body>, name: axum::http::HeaderName) -> &str {
    response
        .headers()
        .get(name)
        .map_or("", |value| value.to_str().unwrap())
}

#[tokio::test]
async fn the_client_gets_the_best_coding_that_it_takes() {
    for (accepted, coding, content) in [
        ("gzip, deflate, br, zstd", "br", "brotli"),
        ("gzip", "gzip", "gzip"),
        ("br;q=0, gzip;q=0.5", "gzip", "gzip"),
        ("br;q=0.2, gzip;q=0.8", "gzip", "gzip"),
        ("*", "br", "brotli"),
        ("*;q=0", "", "as it is"),
        ("BR;q=1.0", "br", "brotli"),
        ("deflate", "", "as it is"),
        ("br;q=nonsense", "", "as it is"),
    ] {
        let response = SCRIPT.respond(&request(ACCEPT_ENCODING, accepted));
        assert_eq!(header(&response, CONTENT_ENCODING), coding, "{accepted}");
        assert_eq!(header(&response, VARY), "accept-encoding");
        assert_eq!(body(response).await, content.as_bytes(), "{accepted}");
    }
}

#[tokio::test]
async fn a_file_that_is_carried_packed_is_unpacked_for_who_takes_no_coding() {
    let mut packer = GzEncoder::new(Vec::new(), Compression::best());
    packer.write_all(b"as it is").unwrap();
    let packed = Asset {
        plain: None,
        gzip: Some(packer.finish().unwrap().leak()),
        ..SCRIPT
    };
    let response = packed.respond(&request(ACCEPT_ENCODING, "identity"));
    assert_eq!(header(&response, CONTENT_ENCODING), "");
    assert_eq!(body(response).await, b"as it is");
}

#[test]
fn every_coding_has_a_tag_of_its_own() {
    let tag = |accepted| {
        let response = SCRIPT.respond(&request(ACCEPT_ENCODING, accepted));
        header(&response, ETAG).to_owned()
    };
    let tags = [tag("br"), tag("gzip"), tag("identity")];
    assert!(
        tags[0] != tags[1] && tags[1] != tags[2] && tags[0] != tags[2],
        "{tags:?}"
    );
}

#[tokio::test]
async fn a_client_that_has_the_content_is_told_so_and_sent_nothing() {
    let first = SCRIPT.respond(&HeaderMap::new());
    let tag = first.headers()[ETAG].clone();
    let mut again = HeaderMap::from_iter([(IF_NONE_MATCH, tag)]);
    let response = SCRIPT.respond(&again);
    assert_eq!(response.status(), StatusCode::NOT_MODIFIED);
    assert!(body(response).await.is_empty());
    again.insert(ACCEPT_ENCODING, HeaderValue::from_static("br"));
    assert_eq!(
        SCRIPT.respond(&again).status(),
        StatusCode::OK,
        "another coding, other bytes"
    );
    let others = request(
        IF_NONE_MATCH,
        "\"other\", W/\"0123456789abcdef0123456789abcdef\"",
    );
    assert_eq!(SCRIPT.respond(&others).status(), StatusCode::NOT_MODIFIED);
    assert_eq!(
        SCRIPT.respond(&request(IF_NONE_MATCH, "\"x\"")).status(),
        StatusCode::OK
    );
}

#[test]
fn hashed_files_last_for_ever_and_the_others_are_asked_for_again() {
    let response = SCRIPT.respond(&HeaderMap::new());
    assert_eq!(header(&response, CACHE_CONTROL), FOR_EVER);
    assert_eq!(header(&response, CONTENT_SECURITY_POLICY), "");
    let shell = Asset {
        path: "/shell.html",
        ..SCRIPT
    };
    let response = shell.respond(&HeaderMap::new());
    assert_eq!(header(&response, CACHE_CONTROL), ASK_AGAIN);
    assert_eq!(header(&response, CONTENT_SECURITY_POLICY), STATIC_POLICY);
    assert_eq!(header(&response, CONTENT_TYPE), "text/html; charset=utf-8");
}

#[test]
fn wasm_has_the_type_that_streaming_compilation_asks_for() {
    let wasm = Asset {
        path: "/assets/clearhawse-0123456789abcdef.wasm",
        ..SCRIPT
    };
    assert_eq!(
        header(&wasm.respond(&HeaderMap::new()), CONTENT_TYPE),
        "application/wasm"
    );
}

#[tokio::test]
async fn a_program_without_pages_says_how_to_get_them_and_one_with_them_serves_them() {
    let app: Router = routes();
    let request = axum::http::Request::get("/shell.html")
        .body(Body::empty())
        .unwrap();
    let response = tower::ServiceExt::oneshot(app, request).await.unwrap();
    if let Some(manifest) = manifest() {
        let shell = String::from_utf8(body(response).await).unwrap();
        assert!(
            shell.contains(manifest.boot) && shell.contains(manifest.build),
            "{shell}"
        );
    } else {
        assert_eq!(response.status(), StatusCode::SERVICE_UNAVAILABLE);
        let page = String::from_utf8(body(response).await).unwrap();
        assert!(page.contains("cargo xtask build"), "{page}");
    }
}

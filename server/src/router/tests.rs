use super::*;
use journal::address::{Method, PAGES, Row, TABLE};
use std::collections::BTreeSet;

fn named(rows: &[Row]) -> Vec<(Method, &'static str)> {
    rows.iter().map(|row| (row.method, row.path)).collect()
}

#[test]
fn every_address_of_the_table_is_served_and_no_other() {
    let routes = api::add(ReadApi::new().take_routes());
    let mut served = named(routes.rows());
    served.extend(named(api::streams().rows()));
    served.extend(named(api::health_routes().rows()));
    let mut listed = named(TABLE);
    served.sort_unstable();
    listed.sort_unstable();
    assert_eq!(served, listed);
}

#[tokio::test]
async fn every_page_of_the_table_is_drawn_and_no_other() {
    let folder = tempfile::tempdir().unwrap();
    let store = format!("sqlite:{}", folder.path().join("records.sqlite").display());
    let store = storage::open(&store).await.unwrap();
    let fleet = Arc::new(Fleet::open(store.clone(), None).await.unwrap());
    let (_close, closing) = watch::channel(false);
    let app = App {
        fleet,
        enroller: Arc::new(Enroller::open(folder.path())),
        sessions: Arc::new(Sessions::open(folder.path(), 0).unwrap()),
        rate_limit: Arc::new(RateLimiter::new(0)),
        is_ashore: false,
        secure: false,
        closing,
    };
    let drawn: BTreeSet<String> = pages::paths(&app, &Arc::new(ReadApi::new()))
        .iter()
        .map(|page| page.path().to_owned())
        .collect();
    let listed: BTreeSet<String> = PAGES.iter().map(|page| page.path.to_owned()).collect();
    assert_eq!(drawn, listed);
    store.close().await;
}

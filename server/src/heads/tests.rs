//! Several servers over one database.

use super::*;
use record::SoftKey;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_two_servers_that_find_something_at_once_neither_loses_what_the_other_found() {
    let data = tempfile::tempdir().unwrap();
    let url = format!("sqlite:{}", data.path().join("r.sqlite").display());
    let store: Arc<dyn RecordStore> = storage::open(&url).await.unwrap();
    let vessel = SoftKey::from_seed([5; 32]).public().vessel();
    let servers = [0, 1].map(|_| Arc::new(Heads::new(Arc::clone(&store), None)));
    let head = |size: u64| Head {
        size,
        root: [u8::try_from(size).unwrap(); 32],
        signed_ms: None,
    };
    let finds = (0..40_u64).map(|number| {
        let heads = Arc::clone(&servers[usize::from(number % 2 == 0)]);
        let trouble = Trouble {
            origin: log_origin("ship", vessel),
            finder: Finder::Device,
            found: Found::Rewritten,
            remembered: head(number),
            shown: head(100),
            found_ms: 0,
        };
        tokio::spawn(async move { heads.disputed(vessel, &trouble).await })
    });
    for found in finds.collect::<Vec<_>>() {
        found.await.unwrap().unwrap();
    }
    let mut sizes: Vec<u64> = servers[0]
        .troubles(vessel)
        .await
        .unwrap()
        .iter()
        .map(|trouble| trouble.remembered.size)
        .collect();
    sizes.sort_unstable();
    assert_eq!(sizes, (0..40).collect::<Vec<u64>>());
}

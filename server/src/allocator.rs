//! One pool of memory for all threads of the server.
//!
//! The C library's allocator gives each thread a pool of its own and gives little of a pool back. A server runs for months
//! and hands its work from thread to thread, so that each pool keeps the most that any work ever took: two weeks of work
//! left half as much again in memory as with one pool, and more with each week.

/// Has every thread take its memory from the same pool. Call it before there are other threads.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
pub fn share_one_pool() {
    #[expect(unsafe_code, reason = "the C library's setting has no safe road")]
    // SAFETY: it takes two numbers and touches nothing of ours; no other thread is here yet.
    let is_set = unsafe { libc::mallopt(libc::M_ARENA_MAX, 1) } != 0;
    debug_assert!(is_set, "the C library knows this setting");
}

/// Does nothing: other systems' allocators have no such pools.
#[cfg(not(all(target_os = "linux", target_env = "gnu")))]
pub const fn share_one_pool() {}

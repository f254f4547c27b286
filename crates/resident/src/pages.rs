//! Advice to the processor and the operating system about large tables. It changes nothing but the time a look takes,
//! and that greatly: the transposition table is far larger than what the processor keeps at hand, and a search looks into
//! it at nearly every node.
//!
//! The only unsafe code of the crate: both calls take an address and neither reads nor writes there.
#![expect(unsafe_code, reason = "advice about addresses cannot be given otherwise")]

/// An empty vector with room for `count` elements, on large pages where the system has them.
#[must_use]
pub fn on_large_pages<T>(count: usize) -> Vec<T> {
    let room: Vec<T> = Vec::with_capacity(count);
    #[cfg(target_os = "linux")]
    {
        const PAGE: usize = 4096;
        let (start, length) = (room.as_ptr() as usize, count * size_of::<T>());
        let (first, end) = (start.next_multiple_of(PAGE), (start + length) / PAGE * PAGE);
        if first < end {
            // SAFETY: whole pages of an allocation that is ours; the advice leaves what they hold as it is. Where the
            // system does not take it, nothing is lost.
            unsafe {
                libc::madvise(first as *mut libc::c_void, end - first, libc::MADV_HUGEPAGE);
            }
        }
    }
    room
}

/// Begins to fetch what `target` lies on.
#[inline]
pub fn prefetch<T>(target: &T) {
    #[cfg(target_arch = "x86_64")]
    {
        use std::arch::x86_64::{_MM_HINT_T0, _mm_prefetch};
        // SAFETY: a hint about the address of a reference.
        unsafe {
            _mm_prefetch::<_MM_HINT_T0>(std::ptr::from_ref(target).cast());
        }
    }
    #[cfg(not(target_arch = "x86_64"))]
    let _ = target;
}

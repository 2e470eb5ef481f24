//! What other programs have told PROJ through the environment, and this one must not heed.
#![allow(unsafe_code)]

/// Forgets the search paths of an installed PROJ. Its database may be of another version than the
/// library inside this program, which would then know no CRS at all; ours travels with the program.
///
/// Called first in `main`; where the process has more threads than one, it does nothing.
pub fn forget_installed_database() {
    let alone = std::fs::read_dir("/proc/self/task").is_ok_and(|threads| threads.count() == 1);
    for name in ["PROJ_DATA", "PROJ_LIB"].into_iter().filter(|_| alone) {
        // SAFETY: the process has this one thread, so nobody else can read the environment meanwhile.
        unsafe { std::env::remove_var(name) };
    }
}

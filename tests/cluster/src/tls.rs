//! A server that can be asked over TLS.

use super::Cluster;
use std::fs;
use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};

impl Cluster {
    /// Has the server prove itself with a certificate and its key, both PEM, to whoever asks over TLS from now on.
    ///
    /// # Panics
    /// When the server does not take them.
    pub fn speak_tls(&self, certificate: &str, key: &str) {
        let data = self.folder().join("data");
        let owner = fs::metadata(&data).expect("the cluster's data are there");
        for (name, text) in [("server.crt", certificate), ("server.key", key)] {
            let path = data.join(name);
            fs::write(&path, text).expect("the cluster's folder can be written to");
            chown(&path, Some(owner.uid()), Some(owner.gid())).expect("files are the server's own");
            // PostgreSQL refuses a key that others may read.
            fs::set_permissions(&path, fs::Permissions::from_mode(0o600))
                .expect("files are the server's alone");
        }
        self.run("ALTER SYSTEM SET ssl = on");
        self.restart();
    }
}

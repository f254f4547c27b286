//! Keys, features, PGN reading and graph arithmetic. Pure Rust: no Python, no policy about files.

//! What the server settles before it asks its database: headers, media types, limits, the shape of bodies.

mod headers;
mod openapi;
mod panics;
mod reference;
mod transport;
mod validation;

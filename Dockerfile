FROM rust:1.95-slim-bookworm AS build
RUN apt-get update && apt-get install -y --no-install-recommends gcc libc6-dev && rm -rf /var/lib/apt/lists/*
WORKDIR /src
COPY . .
RUN cargo build --release --locked

FROM debian:bookworm-slim
RUN useradd --create-home --uid 10001 evenfield && install -d -o evenfield -m 0700 /data /keys
COPY --from=build /src/target/release/evenfield /usr/local/bin/evenfield
USER evenfield
ENTRYPOINT ["evenfield"]

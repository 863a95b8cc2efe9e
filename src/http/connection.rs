//! What a request and its connection tell each other: whether an answer is under way, and whether the request's body was
//! read to its end.

use actix_web::body::{BodySize, BoxBody, MessageBody};
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::error::PayloadError;
use actix_web::web::Bytes;
use actix_web::{Error, HttpMessage};
use futures_util::Stream;
use std::cell::{Cell, RefCell};
use std::pin::Pin;
use std::rc::Rc;
use std::task::{Context, Poll};
use std::time::{Duration, Instant};

/// How busy a connection is. The stream of its bytes and its requests share it.
pub struct Traffic {
    answering: Cell<usize>,
    quiet_since: Cell<Instant>,
    /// Whether what is written next may hold bytes of an answer that a handler made.
    holds_answer: Cell<bool>,
}

impl Default for Traffic {
    fn default() -> Self {
        Self { answering: Cell::new(0), quiet_since: Cell::new(Instant::now()), holds_answer: Cell::new(false) }
    }
}

impl Traffic {
    /// How long no request has been under way; nothing while one is.
    pub fn quiet(&self) -> Duration {
        if self.answering.get() > 0 { Duration::ZERO } else { self.quiet_since.get().elapsed() }
    }

    /// Whether what is written next may hold bytes of an answer to a request. What is written otherwise, the dispatcher
    /// made by itself.
    pub fn holds_answer(&self) -> bool {
        self.holds_answer.get()
    }

    /// Takes in that everything so far was written.
    pub fn all_written(&self) {
        self.holds_answer.set(self.answering.get() > 0);
    }
}

/// Counts a request as under way until it is dropped.
struct UnderWay(Rc<Traffic>);

impl UnderWay {
    fn on(traffic: &Rc<Traffic>) -> Self {
        traffic.answering.set(traffic.answering.get() + 1);
        traffic.holds_answer.set(true);
        Self(Rc::clone(traffic))
    }
}

impl Drop for UnderWay {
    fn drop(&mut self) {
        self.0.answering.set(self.0.answering.get() - 1);
        self.0.quiet_since.set(Instant::now());
    }
}

/// The body of a request, shared by its reader and by the answer.
struct Shared(Rc<RefCell<Payload>>);

impl Stream for Shared {
    type Item = Result<Bytes, PayloadError>;

    fn poll_next(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        Pin::new(&mut *self.0.borrow_mut()).poll_next(context)
    }
}

/// What has to live until a request is answered.
pub struct Exchange {
    _under_way: Option<UnderWay>,
    _body: Option<Rc<RefCell<Payload>>>,
}

impl Exchange {
    /// Begins with a request. Its body is kept until the answer is sent: the dispatcher closes a connection only if
    /// somebody still holds a body that has not arrived to its end, and would otherwise read on for as long as the client
    /// sends.
    pub fn begin(request: &mut ServiceRequest) -> Self {
        let under_way = request.request().conn_data::<Rc<Traffic>>().map(UnderWay::on);
        let body = match request.take_payload() {
            Payload::None => None,
            payload => {
                let body = Rc::new(RefCell::new(payload));
                request.set_payload(Payload::Stream { payload: Box::pin(Shared(Rc::clone(&body))) });
                Some(body)
            }
        };
        Self { _under_way: under_way, _body: body }
    }

    /// Ends when the answer is sent.
    pub fn end_with(self, response: ServiceResponse<BoxBody>) -> ServiceResponse<Answered> {
        response.map_body(|_, body| Answered { body, _exchange: self })
    }
}

/// The body of an answer.
pub struct Answered {
    body: BoxBody,
    _exchange: Exchange,
}

impl MessageBody for Answered {
    type Error = Error;

    fn size(&self) -> BodySize {
        self.body.size()
    }

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Result<Bytes, Error>>> {
        self.body.as_pin_mut().poll_next(context).map_err(Into::into)
    }
}

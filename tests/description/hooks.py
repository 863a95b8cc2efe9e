"""How the property-based client writes media types that it does not know."""

import json

import schemathesis


@schemathesis.serializer("application/x-ndjson")
def lines(ctx, value):
    text = value if isinstance(value, str) else json.dumps(value)
    return text.encode()

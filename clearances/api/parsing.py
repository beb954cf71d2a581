"""What comes in as a body."""

import json
from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser


class Body(JSONParser):
    """JSON (RFC 8259), as far as it can be answered: not nested without end, and no half of a surrogate pair,
    which no UTF-8 can send back (its section 8.2 warns of both ends' surprise).
    """

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        try:
            body = super().parse(stream, media_type, parser_context)
            json.dumps(body, ensure_ascii=False).encode()
        except RecursionError:
            raise ParseError("The body is nested too deep. Nothing was changed.") from None
        except UnicodeEncodeError:
            raise ParseError("The body holds half of a surrogate pair. Nothing was changed.") from None
        return body

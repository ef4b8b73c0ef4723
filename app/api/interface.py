"""The interface put together: its routes, its refusals, and the document that describes it
(OpenAPI 3.1)."""

from __future__ import annotations

from functools import cache
from typing import Any

from fastapi import FastAPI, Security
from fastapi.openapi.utils import get_openapi
from fastapi.responses import JSONResponse, Response
from pydantic import TypeAdapter

from app.access.table import API, BY_ROUTE
from app.api import log, past, problems, read, work
from app.api.door import BEARER, Door
from app.api.problems import KIND, SORTS, Problem
from app.catalogue import _
from app.pages.deps import Web

VERSION = "1"
ALWAYS = (400, 401, 403, 404, 409, 422, 429, 507)
"""What any request may be refused with."""
WITH_BODY = (413,)
ABOUT = (
    "The answers, the logbook, counts and weighings of a site, for programs of its owner. All in "
    "SI units; days and times are those of the site. See the guide at /guide/api."
)


def make(web: Web) -> FastAPI:
    """The interface as an app of its own, to be put at its address."""
    app = FastAPI(
        title="Clothcast",
        version=VERSION,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        redirect_slashes=False,
        dependencies=[Security(BEARER)],  # which `Door` looks at; here it is described
    )
    app.state.web = web
    app.router.route_class = Door
    problems.install(app)
    for room in (read, log, past, work):
        app.include_router(room.router)

    @app.get("/openapi.json", include_in_schema=False)
    def describe() -> Response:
        """What may be asked here, for programs that make programs."""
        return JSONResponse(document(app))

    return app


@cache
def document(app: FastAPI) -> dict[str, Any]:
    """The description of an interface: what its routes say, with every refusal beside them."""
    told: dict[str, Any] = get_openapi(
        title="Clothcast",
        version=VERSION,
        description=ABOUT,
        routes=app.routes,
        servers=[{"url": API}],
    )
    parts = told.setdefault("components", {})
    schemas = parts.setdefault("schemas", {})
    for name in ("HTTPValidationError", "ValidationError"):
        schemas.pop(name, None)
    shape = TypeAdapter(Problem).json_schema(
        mode="serialization", ref_template="#/components/schemas/{model}"
    )
    schemas |= shape.pop("$defs", {})
    schemas["Problem"] = shape
    refused = {KIND: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    parts["responses"] = {
        f"Refused{status}": {"description": _(SORTS[status][1]), "content": refused}
        for status in (*ALWAYS, *WITH_BODY)
    }
    for path, ways in told["paths"].items():
        for method, one in ways.items():
            statuses = (*ALWAYS, *WITH_BODY) if "requestBody" in one else ALWAYS
            for status in statuses:
                one["responses"][str(status)] = {"$ref": f"#/components/responses/Refused{status}"}
            scope = BY_ROUTE[f"{method.upper()} {API}{path}"].scope
            one["x-scope"] = scope
    return told

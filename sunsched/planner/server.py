"""The planner's routes: each takes one JSON object and gives one, or a file; docs/planner.md says what guards them."""

from __future__ import annotations

import datetime as dt
import secrets
import socket
import traceback
from collections.abc import Awaitable, Callable
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from sunsched.base import cautions, inputs
from sunsched.base.civil_time import zone_names
from sunsched.base.errors import SunschedError, UsageError
from sunsched.base.years import FIRST_YEAR, LAST_YEAR, coming_year
from sunsched.base.zone_places import zone_place_deg
from sunsched.job.edited_file import ABSENT, Conflict, EditedFile, State, difference
from sunsched.planner import downloads, fields, page, play, work
from sunsched.planner.guard import Connection, Guard
from sunsched.planner.lanes import Lane, Overtaken
from sunsched.planner.work import Answer, Asked, Machines

LOOPBACK = "127.0.0.1"
_MOST_CONNECTIONS = 64
_LONGEST_TYPED = 10_000
Body = dict[str, Any]
Now = Callable[[], dt.datetime]


class Planner:
    """One planner: its file, its key, its two threads."""

    def __init__(self, session: EditedFile, now: Now, tell: Callable[[str], None]) -> None:
        """`now` gives the moment as an aware time; `tell` gets what went wrong in the planner itself."""
        self.session, self.now, self.tell = session, now, tell
        self.key = secrets.token_urlsafe(24)
        self.quick, self.slow = Lane("quick"), Lane("slow")
        self.machines = Machines()
        self._played: tuple[str, str] = ("", "")

    def application(self, port: int) -> Guard:
        """The guarded routes."""
        posts: dict[str, Callable[[Body], Awaitable[Response]]] = {
            "start": self.start,
            "plan": self.plan,
            "birds": self.birds,
            "table": self.table,
            "battery": self.battery,
            "file": self.file,
            "save": self.save,
            "reload": self.reload,
            "play": self.play,
        }
        routes = [Route(f"/api/{name}", _posted(answer, self.tell), methods=["POST"]) for name, answer in posts.items()]
        routes += [Route("/", self.page), Route("/play", self.played)]
        return Guard(Starlette(routes=routes), port, self.key, page.policy())

    async def page(self, request: Request) -> Response:
        """The page itself."""
        asked = request.query_params.get("lang", "")
        language = page.language_of(asked, request.headers.get("accept-language", ""))
        return HTMLResponse(page.document(language), headers={"content-language": language})

    async def start(self, body: Body) -> Response:
        """What the page begins with: the text, the fields, the words."""
        state = self.session.state()
        today = self.now().date()
        year = coming_year(today)
        leap_day = (today.month, today.day) == (2, 29)
        return JSONResponse(
            {
                "name": self.session.name,
                "can_save": self.session.path is not None,
                "text": self.session.start_text(state),
                "digest": state.digest,
                "year": year,
                "years": [FIRST_YEAR, LAST_YEAR],
                "day": today.replace(year=year, day=28 if leap_day else today.day).isoformat(),
                "fields": [field.plain() for field in fields.fields().values()],
                "chosen": fields.CHOSEN,
                "zones": {zone: zone_place_deg(zone) for zone in sorted(zone_names())},
                "words": page.words(str(body.get("language", ""))),
                "cautions": list(cautions.DOOR),
                "program_years": downloads.PROGRAM_YEARS,
                "looks": [work.FIRST_LOOK_YEARS, work.LONGER_LOOK_YEARS],
                "play": play.is_there(),
            }
        )

    async def plan(self, body: Body) -> Response:
        """The year of a text, or its mistakes. The page's slow work of before is put off."""
        asked, ident = self._asked(body), "before" if body.get("before") else "year"
        if ident == "year":
            self.slow.overtake(_page(body))
        found = await self.quick.run(
            f"{ident} {_page(body)}", lambda tick: work.quick(asked, self.now(), self.machines, ident)
        )
        return JSONResponse(found)

    async def birds(self, body: Body) -> Response:
        """Birds and minutes of a text, beside those of `before_text` where there is one."""
        n_years = body.get("n_years")
        if n_years not in (work.FIRST_LOOK_YEARS, work.LONGER_LOOK_YEARS):
            raise ValueError("n_years")
        asked, before = self._asked(body), _text(body, "before_text")
        return await self._slow(body, lambda tick: work.birds(asked, n_years, tick, before))

    async def table(self, body: Body) -> Response:
        """The table's size."""
        asked = self._asked(body)
        return await self._slow(body, lambda tick: work.table_size(asked))

    async def battery(self, body: Body) -> Response:
        """The battery's winters."""
        asked = self._asked(body)
        return await self._slow(body, lambda tick: work.battery(asked, self.machines))

    async def _slow(self, body: Body, made: Callable[[Callable[[], None]], Answer]) -> Response:
        return JSONResponse(await self.slow.run(_page(body), made, overtakes=False))

    async def file(self, body: Body) -> Response:
        """A file that a command would write."""
        asked, kind = self._asked(body), _text(body, "kind")
        n_years = body.get("n_years", downloads.PROGRAM_YEARS[-1])
        name, content = await self.slow.run(
            f"file {_page(body)}", lambda tick: downloads.download(asked, kind, n_years)
        )
        headers = {"content-disposition": f'attachment; filename="{name}"'}
        return Response(content, media_type="application/octet-stream", headers=headers)

    async def save(self, body: Body) -> Response:
        """Write the file, or say what it has become meanwhile."""
        text, digest = _text(body, "text"), _text(body, "digest")
        try:
            state = await self.quick.run("save", lambda tick: self.session.save(text, digest), overtakes=False)
        except Conflict as conflict:
            return JSONResponse({"conflict": True} | self._state(conflict.now, text), status_code=409)
        return JSONResponse({"digest": state.digest})

    async def reload(self, body: Body) -> Response:
        """The file as it is now, and what differs from the page's text."""
        return JSONResponse(self._state(self.session.state(), _text(body, "text")))

    def _state(self, state: State, text: str) -> Answer:
        named = f"{self.session.name} (now)", "this page"
        gone = state.digest == ABSENT
        return {
            "text": state.text,
            "digest": state.digest,
            "gone": gone,
            "difference": "" if gone else difference(state.text, text, *named),
        }

    async def play(self, body: Body) -> Response:
        """Make the play of a day; the page then opens it in a frame by the number it gets."""
        asked = self._asked(body)
        made = await self.slow.run(f"play {_page(body)}", lambda tick: play.html(asked))
        self._played = (secrets.token_urlsafe(8), made)
        return JSONResponse({"number": self._played[0]})

    async def played(self, request: Request) -> Response:
        """The play that was made last: a page of its own, with a policy of its own."""
        number, made = self._played
        if not number or request.query_params.get("number") != number:
            return Response("no such play", 404)
        return HTMLResponse(made, headers={"content-security-policy": play.POLICY})

    def _asked(self, body: Body) -> Asked:
        typed = body.get("typed", {})
        known = fields.fields()
        if not isinstance(typed, dict) or not all(
            key in known and isinstance(raw, str) and len(raw) <= _LONGEST_TYPED for key, raw in typed.items()
        ):
            raise ValueError("typed")
        day = dt.date.fromisoformat(_text(body, "day"))
        work.year_of(day.year)
        return Asked(_text(body, "text"), self.session.name, work.year_of(body.get("year")), day, typed)

    def close(self) -> None:
        """Let the threads end."""
        self.quick.close()
        self.slow.close()


def _text(body: Body, key: str) -> str:
    value = body.get(key, "")
    if not isinstance(value, str):
        raise ValueError(key)
    return value


def _page(body: Body) -> str:
    return _text(body, "page")[:40]


def _posted(
    answer: Callable[[Body], Awaitable[Response]], tell: Callable[[str], None]
) -> Callable[[Request], Awaitable[Response]]:
    """A route from what answers a JSON object; its errors become a status and words."""

    async def answered(request: Request) -> Response:
        if request.headers.get("content-type", "").partition(";")[0] != "application/json":
            return JSONResponse({"problems": [_problem("a request of application/json")]}, 415)
        try:
            body = inputs.json_of(await request.body())
            if not isinstance(body, dict):
                raise ValueError("an object")
            return await answer(body)
        except Overtaken:
            return JSONResponse({"overtaken": True}, 409)
        except SunschedError as error:
            return JSONResponse({"problems": work.problems_of(error, {})}, 422)
        except (ValueError, RecursionError) as error:
            return JSONResponse({"problems": [_problem(f"not what the planner takes: {error}")]}, 400)
        except Exception as error:
            # A fault of ours: the page stays usable, and the terminal has what is needed to mend it.
            tell(traceback.format_exc())
            return JSONResponse({"problems": [_problem(f"the planner met a fault of its own: {error!r}")]}, 500)

    return answered


def _problem(text: str) -> dict[str, str]:
    return {"field": "", "text": text}


def listening(port: int) -> socket.socket:
    """A socket of this computer alone; `port` 0 lets the system choose. Raises UsageError where the port is taken."""
    # The protocol is named: only then does asyncio send small parts at once, in place of 40 ms later.
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):  # on Windows another program could listen beside us
            found.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind((LOOPBACK, port))
        found.listen(_MOST_CONNECTIONS)
    except OSError as error:
        found.close()
        raise UsageError(
            f"--port is {port}, which cannot be had ({error.strerror}); wanted a free port, or leave --port out"
        ) from None
    return found


def address(planner: Planner, found: socket.socket) -> str:
    """Where the page is, with its key."""
    return f"http://{LOOPBACK}:{found.getsockname()[1]}/?k={planner.key}"


def server_of(planner: Planner, found: socket.socket) -> uvicorn.Server:
    """The server, not yet running; `server.run(sockets=[found])` serves until it is ended."""
    settings = uvicorn.Config(
        planner.application(found.getsockname()[1]),
        http=Connection,
        ws="none",
        lifespan="off",
        log_config=None,
        log_level="critical",  # faults of ours are told by `tell`; a connection that is cut at the end is none
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=_MOST_CONNECTIONS,
        h11_max_incomplete_event_size=16_384,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=1,
    )
    return uvicorn.Server(settings)

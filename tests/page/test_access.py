"""Pairing codes, sessions, form tokens and the bearer secret."""

from __future__ import annotations

from estimator.page.door.access import CODE_S, LONGEST_SESSION_S, MOST_SESSIONS, Doors


class Clock:
    """A clock that a test sets."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def test_a_code_opens_one_session_once() -> None:
    doors = Doors("secret", session_s=60)
    code = doors.new_code()
    session = doors.use_code(code)
    assert session is not None
    assert doors.is_open(session)
    assert doors.use_code(code) is None
    assert doors.session_count() == 1


def test_a_guessed_code_opens_nothing_and_spends_nothing() -> None:
    doors = Doors("secret", session_s=60)
    code = doors.new_code()
    assert doors.use_code("guess") is None
    assert doors.use_code("") is None
    assert doors.use_code(code) is not None


def test_a_code_runs_out() -> None:
    clock = Clock()
    doors = Doors("secret", session_s=60, clock=clock)
    early, late = doors.new_code(), doors.new_code()
    clock.now += CODE_S - 1
    assert doors.use_code(early) is not None
    clock.now += 1
    assert doors.use_code(late) is None


def test_a_session_ends_when_it_is_not_used_and_lives_on_when_it_is() -> None:
    clock = Clock()
    doors = Doors("secret", session_s=60, clock=clock)
    session = doors.use_code(doors.new_code())
    for _ in range(5):
        clock.now += 59
        assert doors.is_open(session)
    clock.now += 60
    assert not doors.is_open(session)
    assert doors.session_count() == 0


def test_a_busy_session_ends_too() -> None:
    clock = Clock()
    doors = Doors("secret", session_s=60, clock=clock)
    session = doors.use_code(doors.new_code())
    while clock.now < 1000 + LONGEST_SESSION_S - 59:
        clock.now += 59
        assert doors.is_open(session)
    clock.now += 59
    assert not doors.is_open(session)


def test_closing_ends_sessions_and_voids_codes() -> None:
    doors = Doors("secret", session_s=60)
    first, second = doors.use_code(doors.new_code()), doors.use_code(doors.new_code())
    unused = doors.new_code()
    doors.close(first)
    assert not doors.is_open(first)
    assert doors.is_open(second)
    doors.close_all()
    assert not doors.is_open(second)
    assert doors.use_code(unused) is None


def test_sessions_and_codes_are_bounded() -> None:
    doors = Doors("secret", session_s=60)
    first_code = doors.new_code()
    sessions = [doors.use_code(doors.new_code()) for _ in range(MOST_SESSIONS + 5)]
    assert doors.session_count() == MOST_SESSIONS
    assert not doors.is_open(sessions[0])
    assert doors.is_open(sessions[-1])
    for _ in range(30):
        doors.new_code()
    assert doors.use_code(first_code) is None


def test_a_form_token_belongs_to_one_visitor_and_one_run() -> None:
    doors = Doors("secret", session_s=60)
    token = doors.form_token("visitor")
    assert doors.is_form_token("visitor", token)
    assert not doors.is_form_token("another", token)
    assert not Doors("other secret", session_s=60).is_form_token("visitor", token)
    assert not doors.is_form_token(None, token)
    assert not doors.is_form_token("visitor", "")
    assert not doors.is_form_token("visitor", "über")


def test_the_bearer_must_be_exact() -> None:
    doors = Doors("secret", session_s=60)
    assert doors.is_bearer("Bearer secret")
    assert doors.is_bearer("bearer secret")
    for header in (
        None,
        "",
        "secret",
        "Basic secret",
        "Bearer secre",
        "Bearer secret2",
        "Bearer",
        "Bearer ü",
    ):
        assert not doors.is_bearer(header)

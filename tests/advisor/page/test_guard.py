"""Nobody but the page itself: names, origins, tokens, policies."""

from pathlib import Path

import httpx
import pytest

from advisor.page.guard import MOST_FORM_BYTES
from tests.advisor.page.sites import ADDRESS, PORT, TOKEN, page

EVIL = "http://evil.example"


@pytest.fixture
def client(tmp_path: Path) -> httpx.Client:
    return page(tmp_path).client


FOREIGN = ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:80", f"127.0.0.1.evil.example:{PORT}", ""]


@pytest.mark.parametrize("host", FOREIGN)
def test_a_foreign_name_for_this_machine_is_refused(client: httpx.Client, host: str) -> None:
    for method, address in (("GET", "/"), ("POST", "/runs"), ("GET", "/page.js")):
        assert client.request(method, address, headers={"host": host, "x-mixproof-token": TOKEN}).status_code == 403


@pytest.mark.parametrize("host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"LOCALHOST:{PORT}", f"[::1]:{PORT}"])
def test_our_own_names_are_answered(client: httpx.Client, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("origin", [EVIL, "null", f"https://127.0.0.1:{PORT}", "http://127.0.0.1:1"])
def test_a_request_of_another_site_is_refused_even_with_the_token(client: httpx.Client, origin: str) -> None:
    assert client.post("/runs", data={"token": TOKEN}, headers={"origin": origin}).status_code == 403
    assert client.get("/", headers={"origin": origin}).status_code == 403


def test_a_form_of_another_site_is_refused(client: httpx.Client) -> None:
    assert client.post("/runs", data={"token": TOKEN}, headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert client.post("/runs", data={"token": TOKEN}, headers={"sec-fetch-site": "same-site"}).status_code == 403
    assert client.get("/", headers={"sec-fetch-site": "cross-site"}).status_code == 200  # a link may lead here


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_a_write_needs_the_token_of_this_start(client: httpx.Client, method: str) -> None:
    for headers in ({}, {"x-mixproof-token": "of-another-start"}, {"x-mixproof-token": ""}):
        answer = client.request(method, "/runs", headers={"origin": ADDRESS, **headers})
        assert answer.status_code == 403
        assert "earlier start" in answer.text


def test_the_token_may_stand_in_a_form_and_nowhere_else(client: httpx.Client) -> None:
    assert client.post("/runs", data={"token": TOKEN}).status_code == 201
    assert client.post("/runs", json={"token": TOKEN}).status_code == 403
    assert client.post(f"/runs?token={TOKEN}").status_code == 403


def test_a_form_larger_than_any_of_ours_is_refused(client: httpx.Client) -> None:
    assert client.post("/runs", data={"token": TOKEN, "project": "x" * MOST_FORM_BYTES}).status_code == 403


@pytest.mark.parametrize("address", ["/", "/page.js", "/page.css", "/nothing-here", "/runs/../../etc/passwd"])
def test_every_answer_has_a_strict_policy(client: httpx.Client, address: str) -> None:
    headers = client.get(address).headers
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; script-src 'self';")
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert "access-control-allow-origin" not in headers

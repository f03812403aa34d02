"""What the user writes behind `sacn`: one receiver or none, and options."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Callable, Mapping

from cuedeck.errors import Refusal
from cuedeck.output.e131 import (
    DEFAULT_PRIORITY,
    HIGHEST_UNIVERSE,
    NOT_SYNCHRONISED,
    PORT,
    SacnSource,
    checked_priority,
    checked_universe,
)
from cuedeck.output.sacn import Destination, Sacn
from cuedeck.output.sacn_identity import default_source_name, own_cid

OPTIONS = {
    "priority": "priority=100, from 0 to 200; receivers take the highest",
    "interface": "interface=eth0, or its IPv4 address",
    "name": "name=TEXT, what receivers show",
    "sync": "sync=off, or sync=UNIVERSE",
    "spare": "spare=yes, where a second computer sends to the same lights with less priority",
    "port": f"port={PORT}, with sacn:ADDRESS only",
}
"""What may be written behind commas, and how."""
_LABEL = r"[A-Za-z0-9_]([A-Za-z0-9_-]{0,61}[A-Za-z0-9_])?"
_HOST = re.compile(rf"{_LABEL}(\.{_LABEL})*\.?", re.ASCII)
_LONGEST_HOST = 253
_HIGHEST_PORT = 65_535


class BadSacnTarget(Refusal):
    """A text behind `sacn` that means nothing. The message says what to write."""


def sacn_of(host: str, options: Mapping[str, str]) -> Sacn:
    """Return the output that an address ("" for multicast) and some of `OPTIONS` describe. Raises BadSacnTarget."""
    if "port" in options and not host:
        raise BadSacnTarget(f"multicast has port {PORT} and no other: write port=N behind sacn:ADDRESS")
    priority = _number("priority", options.get("priority", str(DEFAULT_PRIORITY)), checked_priority)
    destination = Destination(
        host=_checked_host(host) if host else None,
        port=_number("port", options.get("port", str(PORT)), _checked_port),
        interface=_checked_interface(options["interface"]) if "interface" in options else None,
        synchronisation=_synchronisation(options["sync"]) if "sync" in options else None,
        has_spare="spare" in options and _is_yes("spare", options["spare"]),
    )
    return Sacn(SacnSource(own_cid(), _checked_name(options.get("name")), priority), destination)


def _number(option: str, text: str, checked: Callable[[int], int]) -> int:
    if not re.fullmatch(r"\d{1,9}", text, re.ASCII):
        raise BadSacnTarget(f"'{option}={text}' is no whole number: write {OPTIONS[option]}")
    try:
        return checked(int(text))
    except Refusal as refusal:
        raise BadSacnTarget(f"'{option}={text}': {refusal}; write {OPTIONS[option]}") from refusal


def _is_yes(option: str, text: str) -> bool:
    if text not in ("yes", "no"):
        raise BadSacnTarget(f"'{option}={text}' is neither yes nor no: write {OPTIONS[option]}")
    return text == "yes"


def _checked_port(port: int) -> int:
    if not 1 <= port <= _HIGHEST_PORT:
        raise BadSacnTarget(f"ports go from 1 to {_HIGHEST_PORT}")
    return port


def _synchronisation(text: str) -> int:
    if text == "off":
        return NOT_SYNCHRONISED
    if not text.isascii() or not text.isdigit():
        raise BadSacnTarget(f"'sync={text}' is no universe: write sync=off, or sync=1 to sync={HIGHEST_UNIVERSE}")
    return _number("sync", text, checked_universe)


def _checked_name(name: str | None) -> str:
    if name is None:
        return default_source_name()
    if not name.strip() or not name.isprintable():
        raise BadSacnTarget(f"'name={name}' cannot be read: write {OPTIONS['name']}")
    return name


def _checked_interface(interface: str) -> str:
    if not interface or not interface.isprintable() or set(interface) & set(" /:"):
        raise BadSacnTarget(f"'interface={interface}' is no interface: write {OPTIONS['interface']}")
    return interface


def _checked_host(host: str) -> str:
    """Return the address or the name of one receiver; IPv6 is another edition of E1.31."""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        if _HOST.fullmatch(host) and len(host) <= _LONGEST_HOST and not re.fullmatch(r"[\d.]+", host, re.ASCII):
            return host
        raise BadSacnTarget(f"'{host}' is no address: write sacn for multicast, or sacn:192.0.2.20") from None
    if address.version != 4:
        raise BadSacnTarget(f"'{host}' is an IPv6 address: write the IPv4 address of the receiver")
    if address.is_multicast:
        raise BadSacnTarget(f"{host} is a multicast address: write sacn, and each universe finds its own")
    if address.is_unspecified or host == "255.255.255.255":
        raise BadSacnTarget(f"{host} is not one receiver: write its own address, or sacn for multicast")
    return host

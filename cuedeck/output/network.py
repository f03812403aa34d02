"""Sockets that send: which interface of the machine, which address, and what an error of the network means."""

from __future__ import annotations

import contextlib
import errno
import ipaddress
import socket
import struct
import sys

from cuedeck.errors import Refusal

MULTICAST_HOPS = 1
"""How many networks a multicast packet may cross. Light is no secret and has no password: it stays where it is."""
_BUFFER_BYTES = 1 << 20
"""Room for the packets of one beat, as far as the system gives it."""
_ADDRESS_OF_AN_INTERFACE = 0x8915
"""SIOCGIFADDR of Linux."""

HAS_NO_ROOM = (errno.EAGAIN, errno.EWOULDBLOCK, errno.ENOBUFS)
"""The system has no room for a packet just now."""
NOBODY_LISTENS = (errno.ECONNREFUSED, errno.ECONNRESET)
"""An earlier packet found the machine and nobody there; the next one may."""

_CURES = {
    errno.ENETUNREACH: "no network leads there: plug it in, give this computer an address, or name the interface",
    errno.ENETDOWN: "the network is down: look at the cable and the switch, or name another interface",
    errno.EHOSTUNREACH: "nothing is reached at that address: look at the address, the cable and the switch",
    errno.EADDRNOTAVAIL: "this computer does not have that address now: give it the address, or name another interface",
    errno.EINVAL: "this computer has lost the address it sent from: give it back, or name another interface",
    errno.ENODEV: "the interface is gone: plug it in again, or name another",
    errno.EPERM: "a firewall forbids it: let UDP port 5568 out",
    errno.EACCES: "the system forbids it: write the address of one receiver, or let UDP port 5568 out of the firewall",
}


class NoInterface(Refusal):
    """An interface that is not there, or has no address. The message says which there are."""


def words_of(error: OSError | NoInterface) -> str:
    """Return what is wrong with the network and what to do about it."""
    if isinstance(error, NoInterface):
        return str(error)
    if isinstance(error, socket.gaierror):
        return "no address is known for that name: write the IPv4 address of the receiver"
    text = (error.strerror or str(error)).lower()
    return _CURES.get(error.errno or 0, f"{text}: look at the network of this computer")


def address_of_interface(interface: str) -> str:
    """Return the IPv4 address of an interface that is named, or given by that address. Raises NoInterface."""
    try:
        return str(ipaddress.IPv4Address(interface))
    except ValueError:
        return _address_of_name(interface)


def interface_with(address: str) -> str | None:
    """Return the name of the interface that has an IPv4 address; None where that cannot be told."""
    for _, name in socket.if_nameindex():
        with contextlib.suppress(NoInterface):
            if _address_of_name(name) == address:
                return name
    return None


def _address_of_name(name: str) -> str:
    names = [known for _, known in socket.if_nameindex()]
    if name not in names:
        raise NoInterface(f"there is no interface '{name}' now; there are {', '.join(names)}")
    try:
        import fcntl
    except ImportError:
        raise NoInterface(f"write the IPv4 address of '{name}' instead of its name") from None
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            answer = fcntl.ioctl(asking, _ADDRESS_OF_AN_INTERFACE, struct.pack("256s", name.encode()))
        except OSError as error:
            raise NoInterface(f"interface '{name}' has no IPv4 address: give it one, or write it here") from error
    return socket.inet_ntoa(answer[20:24])


def address_of_host(host: str) -> str:
    """Return the IPv4 address of a host. Raises OSError."""
    found = socket.getaddrinfo(host, None, socket.AF_INET, socket.SOCK_DGRAM)
    return str(found[0][4][0])


def local_address_to(address: str) -> str:
    """Return the address of the interface that leads to an address. Raises OSError where none does."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.connect((address, 1))  # sends nothing
        return str(asking.getsockname()[0])


def listening_socket(group: str, port: int, interface_address: str) -> socket.socket:
    """Return a socket that hears a multicast group on the interface of an address, and never waits. Raises OSError.

    It is bound to the group, so that it takes nothing from programs that hear what is sent to this machine, and
    shares the port with those that hear groups. Windows cannot do that.
    """
    if sys.platform == "win32":
        raise OSError(errno.EOPNOTSUPP, "a socket cannot be bound to a group")
    made = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        made.setblocking(False)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if sys.platform == "darwin":
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
        made.bind((group, port))
        member = socket.inet_aton(group) + socket.inet_aton(interface_address)
        made.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, member)
    except OSError:
        made.close()
        raise
    return made


def sending_socket(local_address: str | None, multicast_from: str) -> socket.socket:
    """Return a socket that never waits, bound to an address where one is given. Raises OSError.

    Multicast packets leave by the interface of another address and are heard on this machine, too.
    """
    made = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        made.setblocking(False)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _BUFFER_BYTES)
        made.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, MULTICAST_HOPS)
        made.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_LOOP, 1)
        made.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(multicast_from))
        if local_address is not None:
            made.bind((local_address, 0))
    except OSError:
        made.close()
        raise
    return made

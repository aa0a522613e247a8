"""This computer's own addresses on its networks, and the names by which the workshop may be asked for."""

from __future__ import annotations

import ipaddress
import socket
import time

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

LOOK_AGAIN_S = 5.0
_looked_at = 0.0


def in_url(address: str) -> str:
    """An address as it stands in a URL: IPv6 in brackets."""
    return f"[{address}]" if ":" in address else address


def own_addresses() -> list[str]:
    """The addresses under which others on the network reach this computer, IPv4 first; none where there is no network."""
    import psutil

    up = {name for name, state in psutil.net_if_stats().items() if state.isup}
    found = []
    for name, entries in psutil.net_if_addrs().items():
        for entry in entries if name in up else ():
            if entry.family in (socket.AF_INET, socket.AF_INET6):
                address = ipaddress.ip_address(entry.address.partition("%")[0])
                # a link-local address of IPv6 needs the name of the other side's network card behind it
                if not address.is_loopback and not (address.version == 6 and address.is_link_local):
                    found.append(address)
    return [str(address) for address in sorted(set(found), key=lambda each: (each.version, each))]


def served_addresses(bind: str) -> list[str]:
    """Of the address that is served: itself, or all of this computer's where it stands for every one."""
    address = ipaddress.ip_address(bind)
    if not address.is_unspecified:
        return [bind]
    return [each for each in own_addresses() if address.version == 6 or ":" not in each]


def own_names() -> list[str]:
    """What this computer is called, alone and as networks without a name server say it (RFC 6762)."""
    name = socket.gethostname().partition(".")[0].lower()
    plain = name.replace("-", "").isalnum() and name.isascii()
    return [name, f"{name}.local"] if plain else []


def allowed_hosts(bind: str, names: list[str], behind_proxy: bool) -> list[str]:
    """What may stand as Host: this computer by its loopback names, its own names and addresses where it serves them, `names`.

    Raises ImproperlyConfigured for a proxy that could not be one, or has no name.
    """
    loopback = ipaddress.ip_address(bind).is_loopback
    if behind_proxy and not loopback:
        raise ImproperlyConfigured(
            f'TOPOUT_BIND="{bind}" (--bind): behind a proxy the workshop is served to this computer alone; leave it out.'
        )
    if behind_proxy and not names:
        raise ImproperlyConfigured(
            "TOPOUT_BEHIND_PROXY (--behind-proxy): give the name that the proxy serves too, --host bench.example"
        )
    own = [] if loopback else [*own_names(), *map(in_url, served_addresses(bind))]
    return list(dict.fromkeys(["localhost", "127.0.0.1", "[::1]", *([in_url(bind)] if loopback else []), *own, *names]))


def admit_new_addresses() -> bool:
    """Look again for addresses of this computer, since a network comes up and changes while the workshop is open.

    Whether there was a new one. Only this computer's own addresses are ever added; asked for often, it looks seldom.
    """
    global _looked_at
    if settings.LOOPBACK or time.monotonic() - _looked_at < LOOK_AGAIN_S:
        return False
    _looked_at = time.monotonic()
    new = [host for host in map(in_url, served_addresses(settings.BIND)) if host not in settings.ALLOWED_HOSTS]
    settings.ALLOWED_HOSTS.extend(new)
    return bool(new)

"""The tables of the file of takes, and the steps that bring an older file up to them."""

from __future__ import annotations

STEPS = (
    """
create table take (
    id integer primary key,
    shot text not null,
    number integer not null,
    started_utc text not null,
    refresh text not null,
    universes text not null,
    slots_sent integer not null,
    packets_due integer not null,
    outputs text not null,
    fired text not null default '[]',
    status text not null default 'rolling',
    packets_sent integer not null default 0,
    sha256 text not null default '',
    lateness_ms text not null default '',
    unique (shot, number)
);
create table packets (
    take integer not null references take(id),
    first integer not null,
    numbers blob not null,
    sent_ns blob not null,
    slots blob not null,
    primary key (take, first)
) without rowid;
""",
    """
alter table take add column chase text not null default '';
alter table take add column carried text not null default '';
""",
    """
alter table take add column speed text not null default '1';
alter table take add column axes_live integer not null default 0;
""",
    """
alter table packets add column due_ns blob;
alter table packets add column carried blob;
""",
    """
alter table take add column mark text not null default '';
alter table take add column note text not null default '';
""",
    """
alter table take add column reason text not null default '';
alter table take add column key text not null default '';
alter table take add column log text not null default '';
alter table packets add column digest blob;
""",
)
"""What brings a file from each version to the next; an empty one is of version 0."""

"""Offline rendering beside a plain loop over packets and channels."""

from __future__ import annotations

from cuedeck.bench.shows import open_text
from cuedeck.bench.timings import median_s
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timeline.timeline import Timeline

FIXTURES = 40
LENGTH_S = 60


def bench_show() -> OpenedShow:
    """Return a show of 40 two-tone 16-bit lights in one universe, with a cue every two seconds for a minute."""
    lines = ["cuedeck: 1", "rig:"]
    lines += [f"  light {n}: {{type: two-tone 16-bit, address: 1.{1 + 4 * n}}}" for n in range(FIXTURES)]
    lines.append("looks:")
    for look in range(2):
        levels = (
            f"light {n}: {{level: {(7 * n + 50 * look) % 101} %, colour: {3000 + 50 * n} K}}" for n in range(FIXTURES)
        )
        lines.append(f"  look {look}: {{{', '.join(levels)}}}")
    lines += ["shots:", '  "1":', f"    length: {LENGTH_S} s", "    cues:"]
    lines += [
        f"      - {{cue: {n}, at: {2 * n} s, look: look {n % 2}, fade: 2 s, curve: ease}}" for n in range(LENGTH_S // 2)
    ]
    return open_text("\n".join(lines))


def render(timeline: Timeline) -> bytes:
    """Return every slot of a shot as cuedeck renders it."""
    return b"".join(slots.tobytes() for _, slots in timeline.blocks())


def render_plainly(timeline: Timeline) -> bytes:
    """Return the same bytes from a plain loop: for each packet, for each channel, the running fade."""
    patch = timeline.patch
    places = [
        (fixture.columns["intensity"], fixture.address.slot - 1, fixture.columns["colour temperature"])
        for fixture in patch.fixtures
    ]
    spans = [
        (span.start_s, span.still.tolist(), {int(c): (f, k) for f in span.fades for k, c in enumerate(f.columns)})
        for span in timeline.spans
    ]
    plain = {
        id(fade): (fade.start_s, fade.duration_s, fade.origin.tolist(), fade.aim.tolist())
        for span in timeline.spans
        for fade in span.fades
    }
    refresh = float(timeline.refresh_hz)
    out = []
    current = 0
    for packet in range(timeline.packet_count):
        time_s = packet / refresh
        while current + 1 < len(spans) and spans[current + 1][0] <= time_s:
            current += 1
        _, still, fading = spans[current]
        slots = bytearray(512)
        for intensity, place, colour in places:
            for offset, column in ((0, intensity), (2, colour)):
                value = still[column]
                if column in fading:
                    fade, index = fading[column]
                    start_s, duration_s, origin, aim = plain[id(fade)]
                    share = (time_s - start_s) / duration_s
                    if share < 1:
                        shaped = share * share * share * (10 + share * (6 * share - 15))
                        value = origin[index] + (aim[index] - origin[index]) * shaped
                word = int(value * 65535 + 0.5)
                slots[place + offset] = word >> 8
                slots[place + offset + 1] = word & 255
        out.append(bytes(slots))
    return b"".join(out)


def report() -> str:
    timeline = bench_show().plan("1").timeline()
    ours, plain = render(timeline), render_plainly(timeline)
    ours_s = median_s(lambda: render(timeline), 15)
    plain_s = median_s(lambda: render_plainly(timeline), 3)
    same = "the same bytes" if ours == plain else "DIFFERENT BYTES"
    return (
        f"offline render, {LENGTH_S} s, {FIXTURES} lights, {timeline.packet_count} packets\n"
        f"  cuedeck              {ours_s * 1000:8.1f} ms\n"
        f"  plain Python loop    {plain_s * 1000:8.1f} ms   {plain_s / ours_s:.0f} times as long, {same}"
    )

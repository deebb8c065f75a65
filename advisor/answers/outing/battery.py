"""How long a battery lasts, from power, emission and what the radio draws."""

from __future__ import annotations

from advisor.station.emissions import Emission
from advisor.station.station import Station
from geo.fields import Share, record

SENDING_SHARE = 0.5
"""Share of the hours in which one is sending rather than listening: as much the one as
the other, while one calls (common practice, no source)."""

RADIO_EFFICIENCY = 0.35
"""Power to the wire over power from the battery at full power, where the current is not
given: 100 W from 20 A at 13.8 V (common practice, no source)."""

RECEIVE_A = 0.5
"""What a radio draws while it receives, where that is not given: a tenth of an ampere
for a small one, an ampere for a large one (common practice, no source). [A]"""


@record
class Battery:
    """
    What an outing takes from the battery.

    Attributes
    ----------
    charge_ah : float
        Charge that the battery gives. [A h]
    receive_a : float
        Current while receiving. [A]
    send_a : float
        Current at full power. [A]
    sending_share : float
        Share of the hours in which one is sending; 1 for slotted emissions, whose duty
        cycle counts the slots between.
    duty_cycle : float
        Mean power over full power while sending.
    mean_a : float
        Mean current. [A]
    lasts_h : float
        How long the battery lasts. [h]
    plan_h : float
        How long the plan is. [h]
    is_enough : bool
        Whether it lasts the plan.
    """

    charge_ah: float
    receive_a: float
    send_a: float
    sending_share: Share
    duty_cycle: Share
    mean_a: float
    lasts_h: float
    plan_h: float
    is_enough: bool


def battery_use(station: Station, emission: Emission, plan_h: float) -> Battery | None:
    """
    Work out how long the battery of a station lasts.

    Parameters
    ----------
    station : Station
        Holds battery, currents and power.
    emission : Emission
        What is sent.
    plan_h : float
        Length of the plan. [h]

    Returns
    -------
    battery : Battery or None
        None where no battery is known.

    Notes
    -----
    While sending, what is drawn beyond the current of receiving goes with the mean
    power. No radio draws less than that, most draw more in the pauses of speech. The
    duty cycle of a slotted emission counts the slots in which it listens already.
    """
    if station.battery_ah is None:
        return None
    receive_a = RECEIVE_A if station.receive_a is None else station.receive_a
    send_a = station.send_a
    if send_a is None:
        send_a = receive_a + station.power_w / (RADIO_EFFICIENCY * station.battery_v)
    duty_cycle = emission.duty_cycle
    sending_share = 1.0 if emission.is_slotted else SENDING_SHARE
    more_a = max(send_a - receive_a, 0.0)
    mean_a = receive_a + sending_share * duty_cycle * more_a
    lasts_h = station.battery_ah / mean_a if mean_a > 0.0 else float("inf")
    return Battery(
        charge_ah=station.battery_ah,
        receive_a=receive_a,
        send_a=send_a,
        sending_share=sending_share,
        duty_cycle=duty_cycle,
        mean_a=mean_a,
        lasts_h=lasts_h,
        plan_h=plan_h,
        is_enough=lasts_h >= plan_h,
    )


def battery_words(battery: Battery) -> str:
    """
    Say whether the battery lasts the plan.

    Parameters
    ----------
    battery : Battery
        From `battery_use`.

    Returns
    -------
    words : str
        Two sentences.

    Examples
    --------
    >>> words = battery_words(Battery(6, 0.2, 2.2, 0.5, 0.4, 0.6, 10, 12, False))
    >>> words.partition(". ")[0]
    'Battery of 6 Ah lasts 10.0 h of the 12 h: 7.2 Ah are wanted'
    """
    if battery.is_enough:
        verdict = f"lasts the {battery.plan_h:g} h ({battery.lasts_h:.1f} h)"
    else:
        wanted = battery.mean_a * battery.plan_h
        verdict = (
            f"lasts {battery.lasts_h:.1f} h of the {battery.plan_h:g} h: {wanted:.1f} "
            "Ah are wanted"
        )
    turn = "every other slot" if battery.sending_share == 1.0 else "half of the time"
    at = battery.duty_cycle / (0.5 if battery.sending_share == 1.0 else 1.0)
    return (
        f"Battery of {battery.charge_ah:g} Ah {verdict}. Reckoned with "
        f"{battery.receive_a:.2f} A receiving and {battery.send_a:.1f} A at full "
        f"power, sending {turn} at {100.0 * at:.0f} % of it on the average and "
        f"receiving current else: {battery.mean_a:.2f} A."
    )

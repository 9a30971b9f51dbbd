"""The model of a door spec. Field names are the YAML keys; `schemas/spec.schema.json` says the same to editors.

Values are `Quantity`, `Band` or `WireSize` (exact, SI base units), words, whole numbers or flags. Every one of them
may be None (not stated) or UNKNOWN.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from ..outcome import Place
from ..quantity import Band, Quantity, WireSize
from .fields import (
    Maybe,
    Part,
    ReadLater,
    band,
    flag,
    number,
    part,
    parts,
    quantity,
    several,
    wire,
    word,
    words,
)
from .frozen import frozen, nothing


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Site(Part):
    """Where the building stands."""

    ambient: Maybe[Band] = band("temperature")
    setting: Maybe[str] = word()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Building(Part):
    """What of the building decides which locking arrangements it may have."""

    sprinkler: Maybe[str] = word()
    detection: Maybe[str] = word()
    fire_alarm: Maybe[bool] = flag()
    stories: Maybe[int] = number()
    high_rise: Maybe[bool] = flag()
    command_point: Maybe[str] = word()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class CardFormat(Part):
    """The numbers of one kind of card."""

    bits: Maybe[int] = number()
    site_code: Maybe[int] = number()
    first: Maybe[int] = number()
    last: Maybe[int] = number()
    issue: Maybe[int] = number()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Credentials(Part):
    """Cards and keys of the access control system."""

    link_key: Maybe[str] = word()
    install_mode: Maybe[bool] = flag()
    renewal: Maybe[str] = word()
    formats: Mapping[str, CardFormat] = parts(CardFormat)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Project(Part):
    """The project and the editions that it adopts."""

    name: Maybe[str] = word()
    revision: Maybe[str] = word()
    note: Maybe[str] = word()
    codes: Mapping[str, str] = field(default_factory=nothing)
    amendments: Maybe[tuple[str, ...]] = words()
    house: Maybe[tuple[str, ...]] = words()
    site: Maybe[Site] = part(Site)
    building: Maybe[Building] = part(Building)
    credentials: Maybe[Credentials] = part(Credentials)
    fire_alarm_relays: Maybe[int] = number()
    door_licences: Maybe[int] = number()

    @property
    def identity(self) -> str:
        """The project's stable name."""
        return "project"


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Coil(Part):
    """An electromagnet inside a lock, strike, holder or relay, at one voltage setting."""

    supply: Maybe[str] = word()
    voltage: Maybe[Band] = band("voltage")
    current: Maybe[Quantity] = quantity("current")
    peak: Maybe[Quantity] = quantity("current")
    peak_duration: Maybe[Quantity] = quantity("time")
    resistance: Maybe[Quantity] = quantity("resistance")
    inductance: Maybe[Quantity] = quantity("inductance")
    pull_in_voltage: Maybe[Quantity] = quantity("voltage")
    drop_out_current: Maybe[Quantity] = quantity("current")
    release_fraction: Maybe[Quantity] = quantity("ratio")
    temperature_rise: Maybe[Quantity] = quantity("temperature_difference")
    duty: Maybe[str] = word()
    longest_on: Maybe[Quantity] = quantity("time")
    polarity: Maybe[str] = word()
    rectifier: Maybe[bool] = flag()
    built_in_suppression: Maybe[str] = word()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Input(Part):
    """A power input of a device with electronics. A PoE input has `class`, the others `voltage`."""

    supply: Maybe[str] = word()
    poe_class: Maybe[int] = number()
    voltage: Maybe[Band] = band("voltage")
    current: Maybe[Quantity] = quantity("current")
    peak: Maybe[Quantity] = quantity("current")
    peak_duration: Maybe[Quantity] = quantity("time")
    power: Maybe[Quantity] = quantity("power")
    idle_power: Maybe[Quantity] = quantity("power")
    capacitance: Maybe[Quantity] = quantity("capacitance")
    hold_up: Maybe[Quantity] = quantity("time")
    output_limit: Maybe[Quantity] = quantity("current")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Inputs(Part):
    """The power inputs of a device, at most one of each kind."""

    poe: Maybe[Input] = part(Input)
    dc: Maybe[Input] = part(Input)
    ac: Maybe[Input] = part(Input)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Output(ReadLater):
    """A powered output. `through` names the input whose voltage it passes on; without it the output has its
    own `voltage` (a converter)."""

    supply: Maybe[str] = word()
    poe_class: Maybe[int] = number()
    voltage: Maybe[Band] = band("voltage")
    through: Maybe[str] = word()
    switch: Maybe[str] = word()
    current: Maybe[Quantity] = quantity("current")
    inductive_current: Maybe[Quantity] = quantity("current")
    peak: Maybe[Quantity] = quantity("current")
    peak_duration: Maybe[Quantity] = quantity("time")
    highest_voltage: Maybe[Quantity] = quantity("voltage")
    leakage: Maybe[Quantity] = quantity("current")
    rest: Maybe[str] = word()
    protection: Maybe[str] = word()
    protection_current: Maybe[Quantity] = quantity("current")
    built_in_suppression: Maybe[str] = word()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Contact(ReadLater):
    """A dry contact: it switches a circuit that gets its power elsewhere."""

    form: Maybe[str] = word()
    switch: Maybe[str] = word()
    current: Maybe[Quantity] = quantity("current")
    inductive_current: Maybe[Quantity] = quantity("current")
    peak: Maybe[Quantity] = quantity("current")
    peak_duration: Maybe[Quantity] = quantity("time")
    highest_voltage: Maybe[Quantity] = quantity("voltage")
    smallest_current: Maybe[Quantity] = quantity("current")
    resistance: Maybe[Quantity] = quantity("resistance")
    leakage: Maybe[Quantity] = quantity("current")
    category: Maybe[str] = word()
    rest: Maybe[str] = word()
    built_in_suppression: Maybe[str] = word()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Transfer(Part):
    """The conductors of a power transfer between frame and leaf."""

    conductors: Maybe[int] = number()
    conductor: Maybe[WireSize] = wire()
    resistance: Maybe[Quantity] = quantity("resistance")
    current: Maybe[Quantity] = quantity("current")
    peak: Maybe[Quantity] = quantity("current")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Suppressor(Part):
    """A part that limits the voltage of a coil that is switched off."""

    type: Maybe[str] = word()
    stand_off: Maybe[Quantity] = quantity("voltage")
    clamp: Maybe[Quantity] = quantity("voltage")
    energy: Maybe[Quantity] = quantity("energy")
    resistance: Maybe[Quantity] = quantity("resistance")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Supervision(Part):
    """The resistances by which a supervised input tells its states apart; anywhere else it reports a fault."""

    contact_closed: Maybe[Band] = band("resistance")
    contact_open: Maybe[Band] = band("resistance")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Product(Part):
    """Data-sheet values of one product. `id` is its key."""

    id: str
    kind: Maybe[str] = word()
    title: Maybe[str] = word()
    data_sheet: Maybe[str] = word()
    furnished_by: Maybe[str] = word()
    fail: Maybe[str] = word()
    mechanism: Maybe[str] = word()
    coil: Maybe[Coil] = part(Coil)
    coils: Mapping[str, Coil] = parts(Coil)
    inputs: Maybe[Inputs] = part(Inputs)
    outputs: Mapping[str, Output] = parts(Output)
    contacts: Mapping[str, Contact] = parts(Contact)
    output_limit: Maybe[Quantity] = quantity("current")
    efficiency: Maybe[Quantity] = quantity("ratio")
    isolated: Maybe[bool] = flag()
    response_time: Maybe[Quantity] = quantity("time")
    transfer: Maybe[Transfer] = part(Transfer)
    suppressor: Maybe[Suppressor] = part(Suppressor)
    conductors: Maybe[int] = number()
    interface: Maybe[str] = word()
    ip: Maybe[str] = word()
    nema: Maybe[str] = word()
    ik: Maybe[str] = word()
    battery_operations: Maybe[int] = number()
    temperature: Maybe[Band] = band("temperature")
    listings: Maybe[tuple[str, ...]] = words(whole=True)
    fire_rating: Maybe[str] = word()
    function: Maybe[str] = word()
    latch: Maybe[bool] = flag()
    deadbolt: Maybe[bool] = flag()
    latch_throw: Maybe[Quantity] = quantity("length")
    key_override: Maybe[bool] = flag()
    egress_side: Maybe[str] = word()
    label: Maybe[str] = word()
    dogging: Maybe[str] = word()
    offline: Maybe[str] = word()
    on_hang: Maybe[str] = word()
    closer_size: Maybe[int] = number()
    hold_open: Maybe[bool] = flag()
    authenticated_link: Maybe[bool] = flag()
    monitors: Maybe[tuple[str, ...]] = words(whole=True)
    holding_force: Maybe[Quantity] = quantity("force")
    lock_type: Maybe[str] = word()
    suits: Maybe[tuple[str, ...]] = words(whole=True)
    keeper_depth: Maybe[Quantity] = quantity("length")
    body_depth: Maybe[Quantity] = quantity("length")
    deadlatch: Maybe[bool] = flag()
    holds_deadlatch: Maybe[bool] = flag()
    bottom_rod: Maybe[bool] = flag()
    preload: Maybe[Quantity] = quantity("force")
    opening_moment: Maybe[Quantity] = quantity("torque")
    closing_moment: Maybe[Quantity] = quantity("torque")
    operating_force: Maybe[Quantity] = quantity("force")
    operating_torque: Maybe[Quantity] = quantity("torque")
    corrosion_class: Maybe[int] = number()
    explosion_protected: Maybe[bool] = flag()
    leaf_thickness: Maybe[Band] = band("length")
    cycles: Maybe[int] = number()
    feedback: Maybe[tuple[str, ...]] = words(whole=True)
    credentials: Maybe[tuple[str, ...]] = words(whole=True)
    reading_range: Maybe[Quantity] = quantity("length")
    asks_for_gesture: Maybe[bool] = flag()
    enclosure: Maybe[str] = word()
    balanced: Maybe[bool] = flag()
    sensing: Maybe[str] = word()
    direction_sensitive: Maybe[bool] = flag()
    gap_on_steel: Maybe[Quantity] = quantity("length")
    signal: Maybe[str] = word()
    input_kind: Maybe[str] = word()
    supervision: Maybe[Supervision] = part(Supervision)
    unit_load: Maybe[Quantity] = quantity("ratio")

    @property
    def identity(self) -> str:
        """The product's stable name."""
        return self.id


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Battery(Part):
    """The battery of a supply or UPS."""

    chemistry: Maybe[str] = word()
    voltage: Maybe[Quantity] = quantity("voltage")
    capacity: Maybe[Quantity] = quantity("charge")
    end_voltage: Maybe[Quantity] = quantity("voltage")
    float_voltage: Maybe[Quantity] = quantity("voltage")
    cut_off_voltage: Maybe[Quantity] = quantity("voltage")
    diode_drop: Maybe[Quantity] = quantity("voltage")
    regulated: Maybe[bool] = flag()
    charge_current: Maybe[Quantity] = quantity("current")
    temperature: Maybe[Band] = band("temperature")
    ageing: Maybe[Quantity] = quantity("ratio")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class PowerSource(ReadLater):
    """Where power comes from: a PoE switch, an injector, a supply, a UPS, the mains. `id` is its key."""

    id: str
    kind: Maybe[str] = word()
    title: Maybe[str] = word()
    furnished_by: Maybe[str] = word()
    fed_from: Maybe[str] = word()
    location: Maybe[str] = word()
    # PoE
    standard: Maybe[str] = word()
    port_class: Maybe[int] = number()
    ports: Maybe[int] = number()
    budget: Maybe[Quantity] = quantity("power")
    allocation: Maybe[str] = word()
    keeps_power_on_restart: Maybe[bool] = flag()
    # supplies
    supply: Maybe[str] = word()
    voltage: Maybe[Band] = band("voltage")
    current: Maybe[Quantity] = quantity("current")
    peak: Maybe[Quantity] = quantity("current")
    peak_duration: Maybe[Quantity] = quantity("time")
    overload: Maybe[str] = word()
    load_share: Maybe[Quantity] = quantity("ratio")
    outputs: Mapping[str, Output] = parts(Output)
    contacts: Mapping[str, Contact] = parts(Contact)
    battery: Maybe[Battery] = part(Battery)
    backup: Maybe[Quantity] = quantity("time")
    required_backup: Maybe[Quantity] = quantity("time")
    connection: Maybe[str] = word()
    earthing: Maybe[str] = word()
    ambient: Maybe[Band] = band("temperature")
    derating_from: Maybe[Band] = band("temperature")
    derating_per_kelvin: Maybe[Quantity] = quantity("ratio")
    efficiency: Maybe[Quantity] = quantity("ratio")
    input_power: Maybe[Quantity] = quantity("power")
    transfer_time: Maybe[Quantity] = quantity("time")
    fire_alarm_system: Maybe[bool] = flag()
    mains_failure_reported: Maybe[bool] = flag()
    low_battery_reported: Maybe[bool] = flag()
    temperature: Maybe[Band] = band("temperature")
    listings: Maybe[tuple[str, ...]] = words(whole=True)
    port_security: Maybe[tuple[str, ...]] = words(whole=True)
    bonded_with: Maybe[tuple[str, ...]] = words()
    installed_by: Maybe[str] = word()
    wired_by: Maybe[str] = word()

    @property
    def identity(self) -> str:
        """The source's stable name."""
        return self.id


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Cable(Part):
    """A kind of cable. `id` is its key."""

    id: str
    kind: Maybe[str] = word()
    title: Maybe[str] = word()
    category: Maybe[str] = word()
    conductor: Maybe[WireSize] = wire()
    conductors: Maybe[int] = number()
    material: Maybe[str] = word()
    strand: Maybe[str] = word()
    resistance: Maybe[Quantity] = quantity("resistance_per_length")
    screen: Maybe[str] = word()
    twisted: Maybe[bool] = flag()
    jacket: Maybe[tuple[str, ...]] = words(whole=True)
    temperature: Maybe[Band] = band("temperature")
    furnished_by: Maybe[str] = word()

    @property
    def identity(self) -> str:
        """The cable's stable name."""
        return self.id


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Suppression(Part):
    """A suppressor fitted to an item: which product, where, and how round."""

    product: Maybe[str] = word()
    location: Maybe[str] = word()
    cathode: Maybe[str] = word()
    fitted: Maybe[Product] = None  # resolved from `product`


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class EndOfLine(Part):
    """The resistors at the end of a supervised line: one in series with the contact, one across it."""

    series: Maybe[Quantity] = quantity("resistance")
    parallel: Maybe[Quantity] = quantity("resistance")
    tolerance: Maybe[Quantity] = quantity("ratio")
    location: Maybe[str] = word()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Item(ReadLater):
    """One device at one opening: the hardware set's entry with what the opening overrides. `name` is its key.

    `places` says for each field which of the two files' entries it came from.
    """

    name: str
    opening: str
    product: Maybe[str] = word()
    side: Maybe[str] = word()
    leaf: Maybe[str] = word()
    exposure: Maybe[str] = word()
    fail: Maybe[str] = word()
    coil_setting: Maybe[str] = word()
    fed_from: Maybe[tuple[str, ...]] = words()
    input: Maybe[str] = word()
    cable: Maybe[str] = word()
    length: Maybe[Quantity] = quantity("length")
    parallel_conductors: Maybe[int] = number()
    splices: Maybe[int] = number()
    shares_return_with: Maybe[str] = word()
    screen_earthed: Maybe[str] = word()
    runs_through: Maybe[tuple[str, ...]] = words()
    shares_cable_with: Maybe[str] = word()
    through_transfer: Maybe[str] = word()
    switched_by: Maybe[tuple[str, ...]] = words()
    released_by: Maybe[tuple[str, ...]] = words()
    signals: Maybe[str] = word()
    unlock_time: Maybe[Quantity] = quantity("time")
    unlock_schedule: Maybe[Quantity] = quantity("time")
    release_group: Maybe[str] = word()
    leaves_building: Maybe[bool] = flag()
    surge_protection: Maybe[str] = word()
    operations_per_day: Maybe[int] = number()
    release_delay: Maybe[Quantity] = quantity("time")
    detection_distance: Maybe[Quantity] = quantity("length")
    actuated_by: Maybe[tuple[str, ...]] = words()
    start_delay: Maybe[Quantity] = quantity("time")
    waits_for_unlocked: Maybe[bool] = flag()
    enabled: Maybe[str] = word()
    sweep_time: Maybe[Quantity] = quantity("time")
    bracket: Maybe[str] = word()
    hinge_distance: Maybe[Quantity] = quantity("length")
    hand: Maybe[str] = word()
    mount_height: Maybe[Quantity] = quantity("length")
    distance: Maybe[Quantity] = quantity("length")
    hold_time: Maybe[Quantity] = quantity("time")
    timer: Maybe[str] = word()
    marked: Maybe[bool] = flag()
    zone_width: Maybe[Quantity] = quantity("length")
    zone_depth: Maybe[Quantity] = quantity("length")
    energised_at_rest: Maybe[bool] = flag()
    reset: Maybe[str] = word()
    supervised: Maybe[bool] = flag()
    suppression: tuple[Suppression, ...] = several(Suppression)
    no_suppression: bool = False
    suppression_unknown: bool = False
    note: Maybe[str] = word()
    furnished_by: Maybe[str] = word()
    installed_by: Maybe[str] = word()
    wired_by: Maybe[str] = word()
    on_request: Maybe[str] = word()
    distance_from_gap: Maybe[Quantity] = quantity("length")
    distance_to_opening: Maybe[Quantity] = quantity("length")
    shielded: Maybe[bool] = flag()
    reports: Maybe[tuple[str, ...]] = words(whole=True)
    end_of_line: Maybe[EndOfLine] = part(EndOfLine)
    programmed_as: Maybe[str] = word()
    gap: Maybe[Quantity] = quantity("length")
    relock: Maybe[str] = word()
    delayed_action: Maybe[Quantity] = quantity("time")
    closing_time: Maybe[Quantity] = quantity("time")
    beside: Maybe[str] = word()
    bus: Maybe[str] = word()
    bus_address: Maybe[int] = number()
    network_address: Maybe[str] = word()
    terminated: Maybe[str] = word()
    stub: Maybe[Quantity] = quantity("length")
    route: Maybe[str] = word()
    sheet: Product | None = None  # resolved from `product`
    cable_sheet: Cable | None = None  # resolved from `cable`
    places: Mapping[str, Place] = field(default_factory=nothing, compare=False, repr=False)

    @property
    def identity(self) -> str:
        """The item's stable name: `opening/item`."""
        return f"{self.opening}/{self.name}"

    def at(self, name: str) -> Place:
        """Where field `name` stands, in the set or in the opening; the item's key where it is not stated."""
        found = self.places.get(name)
        return self.place.key if found is None else found


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class AppliesTo(Part):
    """Which openings a hardware set may be used for."""

    leaves: Maybe[int] = number()
    fire_rating: Maybe[str] = word()
    exposure: Maybe[str] = word()
    security: Maybe[str] = word()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class HardwareSet(Part):
    """A hardware set as it stands; its items are merged into the openings that use it. `id` is its key."""

    id: str
    title: Maybe[str] = word()
    note: Maybe[str] = word()
    revision: Maybe[str] = word()
    sequence: Maybe[str] = word()
    applies_to: Maybe[AppliesTo] = part(AppliesTo)

    @property
    def identity(self) -> str:
        """The set's stable name."""
        return self.id


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Occupancy(Part):
    """Who uses the room that the opening serves."""

    group: Maybe[str] = word()
    load: Maybe[int] = number()
    hazard: Maybe[str] = word()
    use: Maybe[str] = word()
    users: Maybe[str] = word()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Egress(Part):
    """How people get out."""

    side: Maybe[str] = word()
    by: Maybe[str] = word()
    delay: Maybe[Quantity] = quantity("time")
    initiation: Maybe[Quantity] = quantity("time")
    force: Maybe[Quantity] = quantity("force")
    rearm: Maybe[str] = word()
    delay_adjustable: Maybe[bool] = flag()
    locks_in_path: Maybe[int] = number()
    total_delay: Maybe[Quantity] = quantity("time")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Leaf(Part):
    """The leaf or leaves."""

    count: Maybe[int] = number()
    width: Maybe[Quantity] = quantity("length")
    height: Maybe[Quantity] = quantity("length")
    thickness: Maybe[Quantity] = quantity("length")
    material: Maybe[str] = word()
    swing: Maybe[str] = word()
    hand: Maybe[str] = word()
    label_latch_throw: Maybe[Quantity] = quantity("length")
    seal_force: Maybe[Quantity] = quantity("force")
    clear_width: Maybe[Quantity] = quantity("length")
    mass: Maybe[Quantity] = quantity("mass")
    hinge_pins: Maybe[str] = word()
    latch_guard: Maybe[bool] = flag()
    edge_gap: Maybe[Quantity] = quantity("length")
    bottom_gap: Maybe[Quantity] = quantity("length")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Exposure(Part):
    """How exposed each side of the opening is."""

    unsecured: Maybe[str] = word()
    secured: Maybe[str] = word()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class ElectricalRoom(Part):
    """The equipment behind the opening, where it serves an electrical room."""

    current: Maybe[Quantity] = quantity("current")
    distance: Maybe[Quantity] = quantity("length")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Interlock(Part):
    """How the interlock of an opening with others works."""

    by: Maybe[str] = word()
    crossing_time: Maybe[Quantity] = quantity("time")
    time_out: Maybe[Quantity] = quantity("time")
    closing_time: Maybe[Quantity] = quantity("time")
    debounce: Maybe[Quantity] = quantity("time")
    lock_before_unlock: Maybe[bool] = flag()
    on_position_fault: Maybe[str] = word()
    vision: Maybe[bool] = flag()
    purge: Maybe[Quantity] = quantity("time")
    purge_delays_egress: Maybe[bool] = flag()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Opening(ReadLater):
    """One opening with its items, merged with its hardware set. `id` is its key."""

    id: str
    title: Maybe[str] = word()
    set: Maybe[str] = word()
    from_: Maybe[str] = word()
    to: Maybe[str] = word()
    exposure: Maybe[Exposure] = part(Exposure)
    ambient: Maybe[Band] = band("temperature")
    fire_rating: Maybe[str] = word()
    stair: Maybe[bool] = flag()
    security: Maybe[str] = word()
    occupancy: Maybe[Occupancy] = part(Occupancy)
    egress: Maybe[Egress] = part(Egress)
    leaf: Maybe[Leaf] = part(Leaf)
    note: Maybe[str] = word()
    unsecured_side: Maybe[str] = word()
    arrangement: Maybe[str] = word()
    critical: Maybe[bool] = flag()
    smoke_control: Maybe[bool] = flag()
    stair_discharge: Maybe[bool] = flag()
    elevator_lobby: Maybe[bool] = flag()
    accessible_route: Maybe[bool] = flag()
    first_person_in: Maybe[bool] = flag()
    emergency_lighting: Maybe[bool] = flag()
    two_way_communication: Maybe[bool] = flag()
    clinical_need: Maybe[bool] = flag()
    emergency_plan: Maybe[bool] = flag()
    sign: Maybe[bool] = flag()
    sign_letters: Maybe[Quantity] = quantity("length")
    preparation: Maybe[str] = word()
    job_site_hole: Maybe[Quantity] = quantity("length")
    interlocked_with: Maybe[tuple[str, ...]] = words()
    interlock: Maybe[Interlock] = part(Interlock)
    authority_approval: Maybe[bool] = flag()
    main_entrance: Maybe[bool] = flag()
    alternative_exit: Maybe[bool] = flag()
    staff_release: Maybe[bool] = flag()
    sign_stroke: Maybe[Quantity] = quantity("length")
    sign_distance: Maybe[Quantity] = quantity("length")
    release_category: Maybe[str] = word()
    headroom: Maybe[Quantity] = quantity("length")
    explosive_atmosphere: Maybe[str] = word()
    pressure_difference: Maybe[Quantity] = quantity("pressure")
    frame_depth: Maybe[Quantity] = quantity("length")
    electrical_room: Maybe[ElectricalRoom] = part(ElectricalRoom)
    factors: Maybe[int] = number()
    peak_flow: Maybe[int] = number()
    alarms: Maybe[tuple[str, ...]] = words(whole=True)
    held_open_time: Maybe[Quantity] = quantity("time")
    sequence: Maybe[str] = word()
    items: Mapping[str, Item] = field(default_factory=nothing)

    @property
    def identity(self) -> str:
        """The opening's stable name."""
        return self.id


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Waiver(Part):
    """A finding that somebody accepts, with the reason."""

    rule: Maybe[str] = word()
    opening: Maybe[str] = word()
    item: Maybe[str] = word()
    reason: Maybe[str] = word()
    approved_by: Maybe[str] = word()
    until: Maybe[str] = word()


@dataclass(frozen=True, kw_only=True)
class Spec:
    """A whole door spec: all files together, references resolved. `practice`: the figures of practice that house
    standards set, by the parameter's name, in SI base units; those not in it keep their defaults."""

    root: str
    project: Project
    products: Mapping[str, Product] = field(default_factory=nothing)
    power: Mapping[str, PowerSource] = field(default_factory=nothing)
    cables: Mapping[str, Cable] = field(default_factory=nothing)
    sets: Mapping[str, HardwareSet] = field(default_factory=nothing)
    openings: Mapping[str, Opening] = field(default_factory=nothing)
    waivers: tuple[Waiver, ...] = ()
    practice: Mapping[str, Fraction | str] = field(default_factory=nothing)

    def __post_init__(self) -> None:
        for name in ("products", "power", "cables", "sets", "openings", "practice"):
            object.__setattr__(self, name, frozen(getattr(self, name)))

"""The people of the demo plant, all invented, with the sign-ins and PINs that the demo prints."""

from __future__ import annotations

from dataclasses import dataclass

from assets.models import Role

# Published on purpose: they open an invented plant, kept in a folder of its own.
PASSWORD = "walk-the-plant-26"  # noqa: S105
COMPANY = "Alder Pump Service"
SITE = "Kestrel Hollow Water Works"
ZONE = "America/Denver"
DOMAIN = "kestrel-hollow.example"


@dataclass(frozen=True, slots=True)
class Part:
    """One person of the story; nobody signs in without a sign-in name."""

    name: str
    role: Role
    sign_in: str
    pin: str
    phone: str
    does: str

    @property
    def email(self) -> str:
        """Where the morning's digest goes; `.example` is nobody's domain."""
        return f"{self.sign_in}@{DOMAIN}" if self.sign_in else ""


RUTH = Part("Ruth Penhall", Role.SUPERVISOR, "ruth", "4718", "555 0110", "plans, reviews, accepts")
WILMA = Part("Wilma Sorrel", Role.SUPERVISOR, "wilma", "6152", "555 0118", "relief supervisor, writes procedures")
MINA = Part("Mina Aldous", Role.ADMINISTRATOR, "mina", "2904", "555 0119", "keeps people and the site")
INES = Part("Ines Calder", Role.OPERATOR, "ines", "8305", "555 0111", "day shift, qualified for lockout")
TOMAS = Part("Tomas Lind", Role.OPERATOR, "tomas", "5927", "555 0112", "day shift, qualified for lockout")
NOOR = Part("Noor Sandal", Role.OPERATOR, "noor", "7461", "555 0100", "in charge of the lockout of P-72")
JOSS = Part("Joss Amadi", Role.OPERATOR, "joss", "3690", "555 0113", "night shift")
EDDA = Part("Edda Varga", Role.VIEWER, "edda", "1583", "555 0114", "reads everything, changes nothing")
DAVOR = Part("Davor Melnyk", Role.CONTRACTOR, "", "", "555 0191", f"contractor, {COMPANY}: comes in by link and code")

STAFF = (RUTH, WILMA, MINA, INES, TOMAS, NOOR, JOSS, EDDA)
SHIFT = (INES, TOMAS, NOOR, JOSS)
QUALIFIED = (NOOR, TOMAS, INES)


@dataclass(frozen=True, slots=True)
class Metal:
    """What is stamped on a lock or printed on a plate: read at the machine, never shown by the pages."""

    name: str
    characters: str


# Last three characters of each lock's stamp, and the codes on the plates.
STAMPS = {
    "14": Metal("plant lock 14", "K7R"),
    "15": Metal("plant lock 15", "K9D"),
    "16": Metal("plant lock 16", "L2V"),
    "17": Metal("plant lock 17", "L4T"),
    "18": Metal("plant lock 18", "L6N"),
    "19": Metal("plant lock 19", "M3C"),
    "22": Metal("plant lock 22", "M8F"),
    "DM-4": Metal("Davor Melnyk's lock DM-4", "X4Q"),
}
PLATES = {
    "B-72": Metal("breaker B-72", "HB72"),
    "V-721": Metal("valve V-721", "R3K1"),
    "V-722": Metal("valve V-722", "T6W2"),
    "B-01": Metal("breaker B-01", "J7C3"),
    "V-011": Metal("valve V-011", "K2T8"),
    "V-012": Metal("valve V-012", "L9B5"),
    "B-71": Metal("breaker B-71", "N4V6"),
    "V-711": Metal("valve V-711", "P8D2"),
    "V-712": Metal("valve V-712", "S5H9"),
    "B-61": Metal("breaker B-61", "D5M9"),
    "V-611": Metal("valve V-611", "F2X7"),
    "V-612": Metal("valve V-612", "G8P4"),
    "3": Metal("box 3", "Q9Z3"),
    "1": Metal("box 1", "C4H6"),
}

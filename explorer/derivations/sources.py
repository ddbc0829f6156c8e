"""Where the equations of the derivations come from, as the physics package names them."""

DRAG = (
    "NPTEL, Electric Vehicles, lecture on vehicle dynamics; J. Larminie and J. Lowry, Electric Vehicle Technology "
    "Explained, equation (7.2), number from memory"
)
ROLLING = (
    "NPTEL, Fundamentals of Electric Vehicles, lecture on vehicle dynamics; the part with speed squared: "
    "T. D. Gillespie, Fundamentals of Vehicle Dynamics, chapter 4, from memory"
)
FORCE_BALANCE = (
    "J. Larminie and J. Lowry, Electric Vehicle Technology Explained, chapter 7, chapter from memory: Newton's "
    "second law along the road"
)
MACHINE = (
    "R. Krishnan, Permanent Magnet Synchronous and Brushless DC Motor Drives, CRC Press, 2010, chapters 3 and 5: "
    "machine equations, voltage and current limits"
)
TORQUE = (
    "R. Krishnan, Permanent Magnet Synchronous and Brushless DC Motor Drives, CRC Press, 2010, chapter 3: torque = "
    "(3/2) pλ i_q, with pλ = 60 / (2π Kv √3) from the meaning of Kv"
)
CONTROLLER = "Definition of electrical power; definition of a line limit"
LOAD_TRANSFER = "Moment balance about the rear contact; V. Cossalter, Motorcycle Dynamics, chapter 3, from memory"
PRACTICE = "Common practice, no source: a setting of the build"
SAME_CUT_OUT = "Common practice, no source: how near two cut-outs must be to be one"
OHM = "Ohm's law with resistor-capacitor pairs, the usual equivalent circuit of a cell; common practice, no source"
_JOURNAL = "Journal of the Electrochemical Society"
_KIM = f"G.-H. Kim and others, {_JOURNAL} 158 (2011) A955"
REST_VOLTAGE = {
    "nmc": f"Table of rest voltage against charge, after C.-H. Chen and others, {_JOURNAL} 167 (2020) 080534",
    "nca": f"Table of rest voltage against charge, after {_KIM}",
    "lfp": f"Table of rest voltage against charge, after E. Prada and others, {_JOURNAL} 160 (2013) A616, and "
    "S. Afshar and others, arXiv:1709.03970 (2017)",
    "lipo_hv": f"Table of rest voltage against charge, after W. Ai and others, {_JOURNAL} 167 (2020) 013512; the "
    "last 3 % extended: common practice, no source",
}
"""By chemistry."""
ARRHENIUS = {
    "nmc": "Arrhenius' law, fitted to pulses of K. O'Regan and others, Electrochimica Acta 425 (2022) 140700",
    "nca": f"Arrhenius' law, fitted to pulses of {_KIM}",
    "lfp": "Arrhenius' law, middle of seven published sets, which differ by a factor of two",
    "lipo_hv": f"Arrhenius' law, fitted to pulses of S. G. Marquis and others, {_JOURNAL} 166 (2019) A3693",
}
"""By chemistry."""
BUTLER_VOLMER = (
    "Butler and Volmer's law for equal transfer coefficients, v = 2 R T / F: C.-H. Chen and others, "
    f"{_JOURNAL} 167 (2020) 080534, table of model equations, from memory"
)
GROWTH_GIVEN = "Arrhenius' law through the growth you entered"
SPREAD = "Ohm's law for one cell; that the weakest has less charge and more resistance: common practice, no source"
INVERSE_TIME = "IEC 60255-151:2009, curve C, “extremely inverse”; second-hand, from relay makers' manuals"
DEFINITE_TIME = (
    "Delay of over-current detection, as in protection circuits: Seiko Instruments, S-8211C data sheet, Rev. 5.0, "
    "table 4; “definite time” of IEC 60255-151:2009, from memory"
)
CHARGING_WINDOW = (
    "A setting of the build, never below the chemistry's floor: IEC 62133-2:2017, annex A; JEITA, A guide to the "
    "safe use of secondary lithium ion batteries in notebook-type personal computers, 2007; both second-hand"
)
CHARGING_RATING = (
    "Maker's figure as entered; without it the current that fills the pack in an hour: common practice, no source"
)
COLD_CHARGING = (
    "JEITA, A guide to the safe use of secondary lithium ion batteries in notebook-type personal computers, 2007, "
    "second-hand, for 0 to 10 °C; a fifth: charger circuits, data sheets SLVSE40C, 2019, and SLUSF18A, 2023, table "
    "7-3"
)
STOPPING = (
    "Finnish Road Safety Council (Liikenneturva), stopping distance of a motorcycle: 1 s of reaction, 7 m/s² on a "
    "dry and 3.5 m/s² on a wet road; equation of uniform deceleration"
)
CHARGE_COUNT = "Definition of the amp-hour"
COPPER = "IEC 60034-1, rise of resistance of copper windings, constant 235 from memory"
HEAT_BALANCE = (
    f"D. Bernardi and others, {_JOURNAL} 132 (1985) 5-12, its reversible part left out, equation from memory; one "
    "body with losses: T. L. Bergman and others, Fundamentals of Heat and Mass Transfer, chapter 5, from memory"
)
PEAK_POWER = "Maximum power of a source with internal resistance, from P = U I and Ohm's law"
GEARING = "ISO 606 for the ratio of a chain drive; rolling without slip"
SPEEDOMETER = "Pulses are counted in proportion to turns of the wheel or motor: definition of the constant"
REGULATION_39 = "UN Regulation No. 39, Revision 2, paragraph 5.4, 2018"
SAMPLING = "C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404-413"
LEAST_SQUARES = (
    "N. R. Draper and H. Smith, Applied Regression Analysis, 3rd edition, Wiley 1998, chapters 1 and 5, from memory"
)

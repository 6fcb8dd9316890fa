"""Cue words as tables: what a quantity is, what is asked, what happens.

Patterns are matched on tagged, lower-case sentences (see ``tagging``). The first entry that
matches wins, so the more particular stands above the more general.
"""

from __future__ import annotations

import re
from typing import NamedTuple


class Cue(NamedTuple):
    """``before`` must match at the end of the words before the quantity, ``after`` at the start
    of the words after it, ``anywhere`` in its sentence; an empty pattern always matches."""

    kind: str
    before: str = ""
    after: str = ""
    anywhere: str = ""


_OF = (
    r"(?: of| is| are| was| be| =|,|:| about| approximately| at| to| only| by"
    r"| equal to)*(?: a| an| the| about| approximately| roughly)* ?$"
)

# letter of the dimension -> cues, most particular first; the last is the default
GIVEN_CUES: dict[str, tuple[Cue, ...]] = {
    "C": (
        Cue("charge_transferred", r"(?:transfers?|transferred|moves?|moved|flows?)" + _OF),
        Cue(
            "charge_transferred",
            "",
            r"^(?: of)?(?: negative| positive)? ?charge (?:to )?(?:is transferred|flows?"
            r"|passes?|moves?|is moved)",
        ),
        Cue("charge_transferred", "", r"^ (?:of charge )?(?:flows?|passes|moves|pass|flow)\b"),
        Cue("total_charge", r"total (?:\w+ )?charge" + _OF),
        Cue(
            "total_charge",
            r"\b(?:sum|total|add up to|adds up to|product|differ by|difference)(?: of [^.;]{0,30})?"
            + _OF,
        ),
        Cue(
            "target_charge",
            r"\b(?:make|give|leave|bring|reduce|change|left with|so that|until|raise)\b"
            r"[^.;]{0,40}$",
            "",
            r"how many electrons|number of electrons",
        ),
        Cue("charge"),
    ),
    "L": (
        Cue("gap", r"(?:nearest points|surfaces|nearest edges|facing sides)" + _OF),
        Cue(
            "distance_added",
            r"(?:increased|widened|further|farther)(?: apart)? by ?$",
        ),
        Cue("distance_removed", r"(?:decreased|reduced|shortened|closer|nearer) by ?$"),
        Cue("distance_added", "", r"^ (?:further|farther) (?:away|apart)\b"),
        Cue("distance_removed", "", r"^ (?:closer|nearer)\b"),
        Cue("diameter", r"diameter" + _OF),
        Cue("diameter", "", r"^[ -](?:in )?diameter"),
        Cue("wavelength", r"wavelengths?" + _OF),
        Cue("wavelength", "", r"^[ -](?:in )?wavelength"),
        Cue(
            "wavelength",
            r"(?:between|from) (?:the |two |successive |consecutive |adjacent "
            r"|neighbouring )*(?:wave )?(?:crests?|troughs?|compressions"
            r"|crest to crest)(?: and the next)?(?: of \w+)?" + _OF,
        ),
        Cue(
            "wavelength",
            "",
            r"^ (?:\w+ ){0,2}(?:light|photons?|radiation|radio waves|x-rays|laser)\b",
        ),
        Cue("wavelength", r"λ(?: is| =| of)* ?$"),
        Cue("wavelength", r"(?:light|photons?|radiation|channel) of ?$"),
        Cue("radius", r"radi(?:us|i)" + _OF),
        Cue("radius", "", r"^[ -](?:in )?radius"),
        Cue(
            "extension",
            r"(?:extension|stretche[sd]|extends|compresse[sd]|extended|compression)" + _OF,
        ),
        Cue("side", r"(?:sides?|edges?|square)" + _OF, "", r"square|triangle"),
        Cue("side", "", r"^ on (?:a|each) side"),
        Cue(
            "plate_separation",
            r"(?:plates?|sheets?|shelves|electrodes)\b[^.]*(?:apart|separat\w+|spacing"
            r"|spaced|gap|distance)[^.]*$",
        ),
        Cue(
            "plate_separation",
            r"(?:plates|shelves|electrodes)\b[^.]*$",
            r"^ (?:apart|of (?:dry )?air)",
        ),
        Cue("plate_separation", r"(?:separat\w+|gap|spacing|d)" + _OF, "", r"plates|capacitor"),
        Cue("plate_separation", "", r"^ (?:apart|between)", r"plates"),
        Cue("height", r"(?:height|altitude)" + _OF),
        Cue(
            "height",
            "",
            r"^[ -](?:high|tall|above (?:the |its )?(?:ground|floor|water|sea|lowest))",
        ),
        Cue(
            "height",
            r"(?:lift|rais|hoist|climb)\w*(?: \S+){0,7}? (?:through|to a height of|by|up|of"
            r"|a height of) ?$",
        ),
        Cue(
            "height",
            r"\b(?:going|goes|walks|runs|climbs|moves"
            r"|up) (?:up )?(?:a (?:vertical )?(?:distance|height) of )?$",
            "",
            r"\bup\b|vertical",
        ),
        Cue(
            "height",
            r"(?:falls?|dropped|drops|falling|fall|lift(?:s|ed|ing)?|rais(?:es?|ed|ing)"
            r"|climbs?|rises?|descends?)(?: (?:freely|vertically|from rest|through|from|up"
            r"|a|an|the|it|him|her|them|distance|of|⟨b\d+⟩|⟨k\d+⟩)){0,6} ?$",
        ),
        Cue(
            "height",
            r"(?:bricks|water|load|box|crate|mass) $",
            r"^ (?:to a|vertically|upwards?|up)\b",
        ),
        Cue(
            "height",
            "",
            r"^ (?:cliff|building|tower|bridge|hill|flight of stairs|ladder|platform|roof)",
        ),
        Cue("height", "", r"^[ -]high"),
        Cue("height", r"(?:cliff|building|tower|bridge|hill|top of a|off a|from a)(?: of)? $"),
        Cue("length", r"(?:length)" + _OF),
        Cue("length", "", r"^[ -]long"),
        Cue("amplitude", r"amplitude" + _OF),
        Cue("thickness", "", r"^[ -]thick"),
        Cue("thickness", r"thickness" + _OF),
        Cue("distance"),
    ),
    "N": (
        Cue(
            "friction",
            r"(?:friction(?:al force)?|drag|air resistance|resistive force|head-?wind"
            r"|resistance)\b[^.,]{0,40}$",
        ),
        Cue("friction", "", r"^ (?:of )?(?:friction|frictional|resistive|opposing|drag|resisting)"),
        Cue("weight", r"(?:weigh(?:s|ing)?|weight)" + _OF),
        Cue("weight", "", r"^ weight"),
        Cue("tension", r"tension\b[^.,]{0,30}$"),
        Cue("tension", "", r"^ tension"),
        Cue("net_force", r"(?:net|resultant|unbalanced|total)(?: \w+){0,2} force\b[^.,]{0,30}$"),
        Cue("net_force", "", r"^ (?:net|resultant|unbalanced) force"),
        Cue("normal_force", r"normal (?:force|reaction)\b[^.,]{0,20}$"),
        Cue("force"),
    ),
    "E": (Cue("field"),),
    "V": (
        Cue(
            "voltage",
            r"(?:potential difference|voltage|\bpd\b|\bpotential)\b(?! source| supply)[^.;⟨]*$",
        ),
        Cue("emf", r"\be\.?m\.?f\.?\b[^.,;⟨]{0,30}$"),
        Cue(
            "emf",
            "",
            r"^[ -](?:\w+ ){0,2}(?:cell|emf|battery|supply|source|power supply|electric supply)\b",
        ),
        Cue("emf", r"(?:battery|cell|supply|source)(?: \w+){0,3}" + _OF),
        Cue("voltage"),
    ),
    "K": (Cue("mass"),),
    "T": (
        Cue("period", r"\bperiod\b[^.,;⟨]*$"),
        Cue("period", "", r"^ period"),
        Cue(
            "period",
            r"(?:each|one|per) (?:complete |full )?(?:wave|oscillation|vibration|cycle)\b[^.]*$",
        ),
        Cue("period", r"(?:bobs?|oscillate)\b[^.]*$"),
        Cue("time"),
    ),
    "S": (
        Cue("sound_speed", r"(?:sound|echo)\b[^.,]{0,40}$"),
        Cue(
            "wave_speed",
            r"\b(?:waves?|ripples?|pulse|light|sound)\b[^.]*(?:speed|velocity|travels?"
            r"|propagates?|moves?)[^.]*$",
        ),
        Cue("wave_speed", "", r"", r"wavelength|\bfrequenc|\bripples?\b|\bwaves?\b"),
        Cue(
            "final_speed",
            r"(?:final|reach(?:es|ing|ed)?|attains?|increases?|until|acquires?|gains?"
            r"|decreases?|slows? down|accelerates?[^.]*\bto|hits? the ground|strikes|lands"
            r"|arrive|leaves?)(?: (?:a|an|the|its|it|is|to|with|at|of|final|speed|velocity"
            r"|object|ground|speed of|has|from rest|instantaneous|maximum|this|in)\b)* ?$",
        ),
        Cue("final_speed", r"\bto (?:a |an |the )?(?:final )?(?:speed|velocity)?(?: of)? ?$"),
        Cue("final_speed", r"\b(?:from rest|from ⟨s\d+⟩) to ?$"),
        Cue(
            "final_speed",
            r"(?:rebounds?|bounces?)(?: \w+){0,3} (?:at|with)(?: a)?(?: speed"
            r"| velocity)?(?: of)? ?$",
        ),
        Cue("final_speed", r"\bgiving it (?:a )?(?:final )?(?:speed|velocity)?(?: of)? ?$"),
        Cue("initial_speed", r"(?:initial|starting|original)(?: \w+){0,3}" + _OF),
        Cue(
            "initial_speed",
            r"\bfrom(?: (?:a|an|its|the))?(?: (?:initial|constant))?(?: (?:speed"
            r"|velocity))?(?: of)? ?$",
        ),
        Cue(
            "initial_speed",
            r"(?:thrown|throws|projected|launched|fired|kicked|tossed|hit|shot)\b[^.]*$",
        ),
        Cue("speed"),
    ),
    "A": (
        Cue("gravity", r"(?:gravity|gravitational acceleration|\bg)" + _OF),
        Cue("gravity", r"free[- ]fall" + _OF),
        Cue("acceleration"),
    ),
    "J": (
        Cue("kinetic_energy", r"kinetic energ(?:y|ies)\b[^.,]{0,30}$"),
        Cue("kinetic_energy", "", r"^ (?:of )?kinetic energy"),
        Cue("potential_energy", r"potential energy\b[^.,]{0,30}$"),
        Cue("potential_energy", "", r"^ (?:of )?(?:gravitational |electric )?potential energy"),
        Cue("work_function", r"(?:binding energy|work function|bound[^.]*\bby)\b[^.]*$"),
        Cue("work_function", "", r"^ work function"),
        Cue("photon_energy", "", r"^ (?:\S+ )?photons?"),
        Cue("photon_energy", r"photons?\b[^.]{0,30}energ(?:y|ies)\b[^.,]{0,20}$"),
        Cue("photon_energy", r"energ(?:y|ies) of (?:a |each |the )?photons?" + _OF),
        Cue("kinetic_energy", "", r"^ electrons?\b"),
        Cue("work", r"work\b[^.,]{0,40}$"),
        Cue("work", "", r"^ of (?:useful )?work"),
        Cue("energy"),
    ),
    "W": (Cue("power"),),
    "I": (Cue("current"),),
    "R": (
        Cue("internal_resistance", r"internal resistance" + _OF),
        Cue("internal_resistance", "", r"^ internal"),
        Cue("resistance"),
    ),
    "F": (Cue("capacitance"),),
    "H": (Cue("threshold_frequency", r"threshold[^.]*$"), Cue("frequency")),
    "P": (Cue("impulse", r"impulse\b[^.,]{0,20}$"), Cue("momentum")),
    "G": (Cue("angle"),),
    "D": (Cue("line_density"),),
    "Y": (Cue("surface_density"),),
    "B": (Cue("area"),),
    "O": (Cue("volume"),),
    "Z": (Cue("temperature"),),
    "M": (Cue("density"),),
    "k": (Cue("coulomb_constant"),),
    "h": (Cue("planck_constant"),),
    "U": (Cue("stiffness"),),
    "X": (
        Cue(
            "dielectric_constant", r"(?:dielectric constant|relative permittivity|κ|ε_\{r\})" + _OF
        ),
        Cue(
            "friction_coefficient",
            r"coefficient of (?:\w+ )?friction\b[^.;⟨]*$|µ(?:_\{\w+\})?(?: is| =)* ?$",
        ),
        Cue("refractive_index", r"refractive index[^.;⟨]*$"),
        Cue("electrons_lost", "", r"^ more protons than"),
        Cue("electrons_gained", "", r"^ more electrons than"),
        Cue("atomic_mass", r"atomic mass" + _OF),
        Cue(
            "electron_count", "", r"^ (?:excess |extra |surplus |missing |more |fewer )?electrons?"
        ),
        Cue("electron_count", r"(?:electrons|avogadro's number \()[^.]{0,20}$"),
        Cue("proton_count", "", r"^ protons?"),
        Cue("force_factor", r"force\b[^.]*by a factor of ?$"),
        Cue("factor", r"(?:factor of|by a factor) ?$"),
        Cue("factor", "", r"^ times"),
        Cue("efficiency", "", r"^ efficient"),
        Cue("efficiency", r"efficiency" + _OF),
        Cue("number"),
    ),
}

_COMPILED: dict[str, tuple[tuple[str, re.Pattern[str], re.Pattern[str], re.Pattern[str]], ...]] = {
    letter: tuple(
        (
            cue.kind,
            re.compile(
                f"(?:{cue.before})"
                if not cue.before or cue.before.endswith("$")
                else f"(?:{cue.before})$"
            ),
            re.compile(cue.after),
            re.compile(cue.anywhere),
        )
        for cue in cues
    )
    for letter, cues in GIVEN_CUES.items()
}


def kind_of_given(letter: str, before: str, after: str, sentence: str) -> str:
    """The kind of a quantity from the words around it."""
    for kind, first, second, anywhere in _COMPILED.get(letter, ()):
        if first.search(before) and second.match(after) and anywhere.search(sentence):
            return kind
    return "unknown"


# --- what is asked ---------------------------------------------------------------------

# (words, kind); matched in order of place in the sentence, then of the table
ASK_CUES: tuple[tuple[str, str], ...] = (
    (
        r"(?:how many|number of) (?:\w+ ){0,3}?electrons?|electrons (?:were|was|are"
        r"|have been) (?:transferred|moved|removed|added|gained|lost)"
        r"|how many excess electrons",
        "electron_count",
    ),
    (r"(?:how many|number of) (?:\w+ ){0,2}?protons?", "proton_count"),
    (r"how many coulombs", "charge"),
    (
        r"(?:how much|amount of|quantity of) charge (?:is |was |must be |has been "
        r"|that )?(?:pass\w*|transferred|moves?|moved|flows?|flowed)"
        r"|charge (?:that (?:is|was) )?transferred",
        "charge_transferred",
    ),
    (r"how many photons|number of photons", "photon_count"),
    (r"how many (?:\S+ )?resistors|number of resistors", "component_count"),
    (r"(?:longest|maximum|threshold)[- ]wavelength", "wavelength"),
    (r"resistivity", "resistivity"),
    (r"refractive index", "refractive_index"),
    (r"charge per (?:unit length|metre|meter)|linear charge density", "line_density"),
    (r"stopping (?:potential|voltage)", "voltage"),
    (r"(?:smallest |least |minimum )?(?:number of|how many) capacitors", "component_count"),
    (r"charge densit(?:y|ies)", "surface_density"),
    (r"electric(?:al)? potential energy|potential energy", "potential_energy"),
    (r"(?:final |maximum |average )?kinetic energ(?:y|ies)", "kinetic_energy"),
    (r"mechanical energy", "mechanical_energy"),
    (r"work function|binding energy", "work_function"),
    (
        r"energy of (?:a |the |one |each |such a )?photons?|photon energ(?:y|ies)"
        r"|energy[^.?]{0,40}of a photon|maximum energy[^.?]*of photons|quantum energy"
        r"|energy of (?:one|a|each) quantum",
        "photon_energy",
    ),
    (
        r"energ(?:y|ies)(?: that is| is)? (?:stored|dissipated|lost|used|transferred"
        r"|needed|required|released)|energy|how much heat|heat (?:produced|dissipated"
        r"|generated)",
        "energy",
    ),
    (r"useful work", "useful_work"),
    (r"useful (?:output )?power", "useful_power"),
    (r"component of [^.?]{0,20}weight[^.?]{0,30}(?:down|along|parallel)", "slope_force"),
    (
        r"work (?:that is |is |must be |was )?(?:done|required|needed)|how much work"
        r"|\bwork\b(?! out)",
        "work",
    ),
    (
        r"electric field strength|electric fields?|field strength|field intensity"
        r"|\bfield\b(?! (?:lines?|exert|on|of|do|produce|does))",
        "field",
    ),
    (
        r"potential difference|voltage|\bp\.?d\b\.?|output voltage|terminal (?:voltage|potential)",
        "voltage",
    ),
    (
        r"(?:electric |electrical |net |total |absolute "
        r"|electrostatic )*potential\b(?! (?:energy|difference))",
        "potential",
    ),
    (r"\be\.?m\.?f\b", "emf"),
    (r"coefficient of (?:\w+ )?friction", "friction_coefficient"),
    (
        r"accelerat(?:ion|ing)|deceleration|rate of (?:acceleration|deceleration)"
        r"|how (?:quickly|fast|rapidly) (?:does |will |do )?\S+ (?:accelerates?|speeds? up)",
        "acceleration",
    ),
    (r"impulse", "impulse"),
    (r"change in (?:its |the |their )?momentum|momentum change", "momentum_change"),
    (r"(?:total |final |initial )?momentum", "momentum"),
    (
        r"(?:net|resultant|total|overall|combined) (?:electric |electrical "
        r"|electrostatic |coulomb |external |horizontal )*force",
        "net_force",
    ),
    (
        r"friction(?:al force)?|resistive force|force (?:that |which )?resists"
        r"|total force resists|frictional",
        "friction",
    ),
    (r"\bnormal (?:force|reaction)", "normal_force"),
    (r"\btension", "tension"),
    (r"\bweight\b", "weight"),
    (r"force", "force"),
    (
        r"how strong(?:ly)?(?! (?:is|are|was) (?:the |this )?(?:\w+ )?field)|how (?:big|strong"
        r"|large) is the (?:push|pull|repulsion|attraction)|what is the (?:repulsion|attraction)"
        r"|(?:repel|attract)s?$",
        "force",
    ),
    (r"capacitances?", "capacitance"),
    (r"dielectric constant|relative permittivity", "dielectric_constant"),
    (r"internal resistance", "internal_resistance"),
    (r"resistance|resistor value|value of (?:the )?resistor", "resistance"),
    (r"\bcurrent\b", "current"),
    (r"\bpower\b", "power"),
    (r"efficiency", "efficiency"),
    (
        r"(?:threshold|lowest|minimum|smallest|least|cut-?off) frequency",
        "threshold_frequency",
    ),
    (r"frequenc(?:y|ies)", "frequency"),
    (r"wavelengths?|longest-wavelength", "wavelength"),
    (r"\bperiod\b", "period"),
    (
        r"final (?:speed|velocity)|(?:speed|velocity)[^.?]{0,50}(?:hits?|strikes?|reach"
        r"|lands?|immediately before|just before|impact|after)|how fast (?:is|will|does)",
        "final_speed",
    ),
    (
        r"initial (?:speed|velocity)|(?:speed|velocity)[^.?]{0,40}(?:thrown|launched"
        r"|leave|projected|take-?off)",
        "initial_speed",
    ),
    (
        r"wave (?:speed|velocity)|(?:speed|velocity) of (?:the |this |a "
        r"|these )?(?:\w+ )?(?:waves?|sound|light|pulse|ripples?)",
        "wave_speed",
    ),
    (r"average (?:speed|velocity)", "speed"),
    (r"recoil (?:speed|velocity)", "recoil_speed"),
    (r"(?:speed|velocity|velocities|how fast)", "speed"),
    (r"how high above|how far above", "distance"),
    (r"maximum height|greatest height|how high|highest point", "max_height"),
    (r"how deep", "height"),
    (r"\bheight\b", "height"),
    (r"displacement", "displacement"),
    (
        r"how far apart|\bapart\b|separation|distance apart|distance (?:between"
        r"|separating)|how close",
        "separation",
    ),
    (r"plates? separation", "plate_separation"),
    (
        r"\bdistance|how far|where\b|how high above|\bpoint on the line\b"
        r"|\bpoint\b(?=[^.]*\b(?:zero|vanish))",
        "distance",
    ),
    (r"\bradius\b", "radius"),
    (r"\bdiameter\b", "diameter"),
    (r"\barea\b", "area"),
    (r"how long|\btime\b|how many (?:seconds|minutes|hours)", "time"),
    (r"temperature", "temperature"),
    (r"\bmass\b", "mass"),
    (r"\bangle\b", "angle"),
    (r"coefficient of (?:\w+ )?friction", "friction_coefficient"),
    (r"spring constant|stiffness|force constant", "stiffness"),
    (r"\bextension\b", "extension"),
    (r"charges?\b|q_\{\w+\}", "charge"),
)
ASK_TABLE = tuple((re.compile(p), k) for p, k in ASK_CUES)

ASK_STARTS = re.compile(
    r"\b(?:what|how|calculate|find|determine|compute|evaluate|estimate|work out"
    r"|where|show that|show by calculation|by what|at what|in what|obtain|give the"
    r"|with what|over what|to what|through what|what's|hence|predict|solve for"
    r"|express (?:the|your)|locate|state the|write down the|give (?:the|its|your)"
    r"|compare (?:the|its|this)|find)\b"
)
NOT_NUMERIC = re.compile(
    r"^(?:hence,? |now,? |then,? |briefly |and |also |using [^,]*, |\(?[a-h]\) )*"
    r"(?:explain|discuss|describe|define|state|draw|sketch|why|name|list|identify"
    r"|justify|prove|label|suggest|comment|compare and|plot"
    r"|does|do you|is |are |would|did|in words|give (?:a |one |two |the )?(?:reason"
    r"|example|definition|name)|write down (?:the |a )?(?:statement|definition|name"
    r"|law)|which\b|who\b|was |can you|could you"
    r"|what (?:is meant|do (?:we|you)|does (?:this|your|it|the term)"
    r"|is unreasonable|assumptions|type of|kind of|is the (?:si )?unit"
    r"|are the units|is the system|happens|is the (?:nature|name|function"
    r"|difference|relationship|purpose)|law|would happen|property|principle"
    r"|quantity is)"
    r"|how (?:do you|does this|will this affect|would you|can you|is it that|might"
    r"|would this answer)|evaluate the (?:result|answer)|do(?:es)? (?:it|this|your)"
    r"|indicate|represent|use (?:the|an?) (?:diagram|sketch)|repeat the)"
)
NOT_NUMERIC_ANYWHERE = re.compile(
    r"in words|free[- ]body diagram|draw (?:a|the)|(?:coulomb's|newton's|ohm's"
    r"|faraday's|hooke's)? ?law in words|electric field (?:lines|pattern)"
)

STATEMENT_OF_STATE = re.compile(
    r"^(?:state|write down|give)\b(?![^.]*\b(?:law|principle|definition|meaning"
    r"|reason|name|variable|condition|factor that|two|one|property|properties"
    r"|difference|in words|symbol|formula|equation|direction of)\b)"
    r"[^.]*\b(?:value|magnitude|size|charge|number|force|field|speed|velocity"
    r"|energy|potential|current|momentum|weight|acceleration|distance)\b"
)
FOLLOW_UP = re.compile(
    r"^(?:also |and )?(?:give|state|include|indicate|specify|remember to (?:give"
    r"|state))\b[^.]*\bdirection\b|^in (?:which|what) direction\b"
    r"|^give (?:only )?(?:the )?(?:magnitude|size) only|^give only the (?:magnitude"
    r"|size)|^(?:give|include) (?:its |the )?(?:magnitude and )?direction"
)

# --- events and other facts ------------------------------------------------------------

FACT_CUES: tuple[tuple[str, str], ...] = (
    (
        r"(?:brought|come|comes|placed|put|allowed|made|moved|are|were|kept"
        r"|bring)?[^.,]{0,25}\b(?:in|into) (?:brief |momentary |electrical )?contact"
        r"|\btouch(?:es|ed|ing)?\b(?! the ground)|connected (?:by|with|using|via"
        r"|through) a (?:thin |long |conducting |metal |copper |fine |light "
        r"|short )*(?:conducting )?(?:wire|conductor|rod)|joined by a (?:\w+ )?wire"
        r"|made to touch|pushed together until",
        "contact",
    ),
    (r"\bidentical\b|\bsimilar\b|\bsame size\b|exactly alike|\bequal size", "identical"),
    (
        r"(?:from|at|initially at|starts? from|starting from) (?:the )?rest\b"
        r"|\b(?:sets?|starts?|moves?|setting|starting|moving) off (?:from|at)\b"
        r"|\bpull(?:s|ing) (?:out of|away from)\b"
        r"|\bis released\b|\breleased\b|is dropped|\bdropped\b|initially stationary"
        r"|initial (?:\w+ ){0,4}(?:velocity|speed)[^.]{0,40}(?:negligible|zero)"
        r"|velocity is zero|stationary start|from a standstill|falls freely from"
        r"|dropped from",
        "from-rest",
    ),
    (
        r"(?:comes?|brought|coming|bring\w*|brings) (?:it |him |her |the \w+ "
        r"|a \S+ \w+ |\S+ \S+ \S+ )?to (?:a )?(?:rest|stop|halt|standstill)|(?:slows?"
        r"|brakes?|decelerates?|skids?) (?:uniformly )?to (?:a )?(?:stop|rest|halt)"
        r"|\bstops\b|\bstopping\b|\b(?:to|must|can|will|does it) stop\b|to rest in"
        r"|to a stop|before stopping",
        "to-rest",
    ),
    (
        r"\b(?:remains?|stays?|hangs?|kept|keep it|hold it|hold|held|holds it|holds) (?:stationary"
        r"|at rest|suspended|motionless|still|steady)\b"
        r"|\bsuspended (?:at rest|between|in|motionless)\b"
        r"|\bstationary (?:between|in)|\bequilibrium\b|\bhovers?\b|held (?:stationary"
        r"|at rest|in equilibrium) (?:by|between|in)|\bbalance[sd]?\b"
        r"|\bfloats?\b (?:motionless|between|at rest)|just support|\bsupports? (?:its"
        r"|the) weight|weight supported|hold\w* up|against gravity|at rest between|keep (?:it"
        r"|the \w+) (?:stationary|suspended|at rest)|motionless|to balance",
        "balanced",
    ),
    (r"decelerat|slow(?:s|ing|ed)? down|brak(?:es?|ing)|slows|retard", "slowing"),
    (
        r"constant (?:speed|velocity)|uniform (?:speed|velocity)|steady speed|same speed"
        r"|\b(?:steady|constant) ⟨s\d+⟩",
        "constant-speed",
    ),
    (
        r"\bfree(?:ly)?[- ]?fall|falls freely|falling freely|is dropped|\bdropped\b"
        r"|\bfalls?\b(?! on)|thrown|throws|tossed|tosses|projected (?:vertically|upward"
        r"|straight)|air resistance",
        "gravity",
    ),
    (
        r"(?:thrown|throws?|projected|tossed|tosses|launched|fired|shot|kicked"
        r"|hit)[^.]{0,50}(?:upwards?|straight up|\bup\b|into the air)"
        r"|leave the ground to rise|jumps? (?:up|vertically)",
        "thrown-up",
    ),
    (
        r"(?:thrown|throws?|projected|hurled)[^.]{0,50}(?:downwards?|straight down|\bdown\b)",
        "thrown-down",
    ),
    (r"\bin series\b|series connection|series combination", "series"),
    (r"\bin parallel\b|parallel connection|parallel combination", "parallel"),
    (
        r"\bsticks?\b|mov\w+ (?:off |on )?(?:joined|as one)\b"
        r"|stick together|stuck together|couple[sd]? (?:together|up|with|to)|coupl(?:e"
        r"|ing) together|join(?:ed|s)? together|lock together|move (?:off )?together"
        r"|embeds?|embedded|lodges|catche?s|combined|common velocity|becomes? attached",
        "stick",
    ),
    (
        r"explo(?:des|sion)|recoil|fires? a|pushe?s? (?:off|apart)|springs? apart|fired from",
        "recoil",
    ),
)
FACT_TABLE = tuple((re.compile(p), n) for p, n in FACT_CUES)

# --- unit words: as asked, in lower case -> as pint spells it --------------------------------

UNIT_WORDS = {
    "kev": "keV",
    "mev": "MeV",
    "gev": "GeV",
    "ev": "eV",
    "electron volts": "eV",
    "electronvolts": "eV",
    "joules": "J",
    "km/h": "km/h",
    "m/s": "m/s",
    "millimetres": "mm",
    "mm": "mm",
    "cm": "cm",
    "centimetres": "cm",
    "centimeters": "cm",
    "µc": "µC",
    "nc": "nC",
    "mc": "mC",
    "microcoulombs": "µC",
    "nanocoulombs": "nC",
    "coulombs": "C",
    "milliamperes": "mA",
    "ma": "mA",
    "newtons": "N",
    "millinewtons": "mN",
    "micronewtons": "µN",
    "µn": "µN",
    "picocoulombs": "pC",
    "pc": "pC",
    "millicoulombs": "mC",
    "kilovolts": "kV",
    "millivolts": "mV",
    "mv": "mV",
    "microjoules": "µJ",
    "millijoules": "mJ",
    "amperes": "A",
    "ohms": "ohm",
    "kilograms": "kg",
    "watts": "W",
    "seconds": "s",
    "mn": "mN",
    "km": "km",
    "nm": "nm",
    "hertz": "Hz",
    "mhz": "MHz",
    "kv": "kV",
    "volts": "V",
    "metres": "m",
    "minutes": "min",
    "hours": "h",
    "kilojoules": "kJ",
    "kj": "kJ",
    "kilowatts": "kW",
    "kw": "kW",
    "micrometres": "µm",
    "grams": "g",
    "milliamps": "mA",
    "kilometres": "km",
    "n/c": "N/C",
    "v/m": "V/m",
    "degrees": "deg",
    "ms": "ms",
    "pf": "pF",
    "µf": "µF",
    "µj": "µJ",
    "mj": "mJ",
}

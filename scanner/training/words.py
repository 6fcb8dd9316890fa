"""Word lists for training lines: common words, physics words, names, pieces of sentences."""

_COMMON_WORDS = """
the of and a to in is it you that he was for on are with as his they be at one have this from
or had by hot but some what there we can out other were all your when up use word how said an each
she which do their time if will way about many then them would write like so these her long make
thing see him two has look more day could go come did my sound no most number who over know water
than call first people may down side been now find any new work part take get place made live
where after back little only round man year came show every good me give our under name very
through just form much great think say help low line before turn cause same mean differ move right
boy old too does tell sentence set three want air well also play small end put home read hand port
large spell add even land here must big high such follow act why ask men change went light kind off
need house picture try us again animal point mother world near build self earth father head stand
own page should country found answer school grow study still learn plant cover food sun four
thought let keep eye never last door between city tree cross since hard start might story saw far
sea draw left late run while press close night real life few stop open seem together next white
children begin got walk example ease paper often always music those both mark book letter until
mile river car feet care second group carry took rain eat room friend began idea fish mountain
north once base hear horse cut sure watch color face wood main enough plain girl usual young ready
above ever red list though feel talk bird soon body dog family direct pose leave song measure state
product black short numeral class wind question happen complete ship area half rock order fire
south problem piece told knew pass farm top whole king size heard best hour better true during
hundred five remember step early hold west ground interest reach fast sing listen six table travel
less morning ten simple several vowel toward war lay against pattern slow center love person money
serve appear road map science rule govern pull cold notice voice fall power town fine certain fly
unit lead cry dark machine note wait plan figure star box noun field rest correct able pound done
beauty drive stood contain front teach week final gave green quick develop sleep warm free minute
strong special mind behind clear tail produce fact street inch lot nothing course stay wheel full
force blue object decide surface deep moon island foot yet busy test record boat common gold
possible plane age dry wonder laugh thousand ago ran check game shape yes hot miss brought heat
snow bed bring sit perhaps fill east weight language among bottom above below because therefore
equal greater smaller bigger zero both each other first second third thus hence so since double
half twice times three four towards away
"""
COMMON_WORDS: tuple[str, ...] = tuple(_COMMON_WORDS.split())

_PHYSICS_WORDS = """
force field charge charges charged electric electrostatic electrons electron proton protons
neutron sphere spheres point distance apart magnitude direction net resultant attractive repulsive
attract repel attracts repels contact touch separated identical conducting insulated stand positive
negative neutral coulomb Coulomb Newton newton law Law constant vacuum potential energy work done
voltage current resistance resistor resistors series parallel circuit battery emf internal power
velocity speed acceleration displacement time mass weight gravity gravitational friction normal
tension momentum impulse collision elastic inelastic conservation kinetic mechanical total system
frequency wavelength wave period amplitude photon threshold metal plate plates capacitor capacitance
dielectric area separation between midpoint vertical horizontal angle component vector scalar graph
gradient area directly inversely proportional square product sum difference ratio increase decrease
increases decreases doubled halved same opposite equal unlike like left right up down north south
east west upwards downwards towards away upward downward electrons lost gained transferred removed
added excess shortage microcoulomb nanocoulomb metres metre centimetres seconds joules volts ohms
amperes watts kilograms calculate determine find state explain define write show that hence given
free-body diagram draw experiences exerted placed held released rest uniform straight line bead
droplet oil rod balloon dust particle string thread hangs suspended light inextensible cm
experience accelerate accelerates moves moving brought together returned original positions after
before initial final change value answer units formula substitution
"""
PHYSICS_WORDS: tuple[str, ...] = tuple(_PHYSICS_WORDS.split())

_NAMES = """
Thandi Sipho Lerato Naledi Kagiso Zanele Bongani Amahle Lwazi Nomsa Pieter Annelie Johan
Fatima Aisha Yusuf Priya Arjun Mei Wei Chen Hana Kenji Maria Jose Luis Ana Pedro Sofia Lukas Emma
Noah Mia Liam Olivia Ethan Ava Jacob Grace Amara Chidi Kwame Abena Kofi Ngozi Tunde Zodwa Themba
Dlamini Nkosi Mokoena Botha Naidoo Pillay Khumalo Mthembu Smith Jones Brown Taylor Wilson Adams
Baker Clark Davies Evans Foster Green Hill Irving Jackson King Lewis Moore Nel Owen Parker Quinn
Roberts Scott Turner Ueda Vorster White Xaba Young Zulu Ali Khan Singh Patel Garcia Lopez
"""
NAMES: tuple[str, ...] = tuple(_NAMES.split())

SENTENCE_PIECES: tuple[str, ...] = (
    "Two small identical metal spheres",
    "carry charges of",
    "are placed a distance of",
    "apart in a vacuum",
    "Calculate the magnitude of",
    "the electrostatic force",
    "the net electric field at point P",
    "due to the charge on",
    "is brought into contact with",
    "and then moved back to",
    "How many electrons were transferred",
    "from sphere A to sphere B",
    "Determine the new charge on each",
    "Write down the direction",
    "State Coulomb's law in words",
    "The distance between the charges is halved",
    "What is the force that Q_{1} exerts on Q_{2}?",
    "a point charge of",
    "experiences a force of",
    "in an electric field of strength",
    "the centre of the sphere",
    "with a mass of",
    "is held at rest",
    "from rest and moves",
    "on insulated stands",
    "as shown in the diagram",
    "a current of",
    "a resistor of",
    "is connected in series with",
    "accelerates uniformly",
    "for a time of",
    "the potential difference across",
    "the work done by",
    "Show that the force is",
    "Give your answer in",
    "a horizontal surface",
    "like charges repel",
    "unlike charges attract",
    "because the charges are opposite",
    "the force is inversely proportional to the square of the distance",
    "electrons move from A to B",
    "Electrons were gained",
    "the sphere lost electrons",
    "it is attracted to the plate",
    "force decreases",
    "The bead moves to the left",
    "same magnitude, opposite direction",
    "Newton's third law",
    "the field points away from the charge",
    "positive to negative",
    "equal and opposite",
    "no, it increases",
    "Yes, because they have the same charge",
    "the same",
    "4 times bigger",
    "9 times smaller",
    "per unit charge",
    "not enough electrons",
)

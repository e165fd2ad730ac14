#!/usr/bin/python3
"""Composes assets/terms.tsv, the list of structures met on body sections. Facts (names, ids, part-of) come from two public tables
(Uberon, CC BY 3.0; HRA tables, CC BY 4.0), read from ../shared/data/terms beside the module and not committed, and from our own
testdata/gen/terms_extra.tsv. What is taken, how it is called, its kind, region, side flag and order are decided here.
Run from the module root: /usr/bin/python3 testdata/gen/terms.py"""
import csv
import re
from collections import Counter

SRC = "../shared/data/terms/"
COLUMNS = "id name latin synonyms abbreviations kind region paired part_of fma source".split()
ORDER = ["all", "head", "neck", "back", "thorax", "abdomen", "pelvis", "upper limb", "lower limb"]


def lines(text):
    return {w.strip() for w in text.strip().split("\n") if w.strip()}


# Too small to see on a cut face, not human, only before birth, or only a class of things.
DROP = re.compile(r"""aortic sac|^artery$|^vein$|^vessel|artery of postcentral|carotid artery segment|hyaloid|^systemic artery|ureteric segment|
|spiral artery|alisphenoid|orbitosphenoid|interparietal|exoccipital|basioccipital|premaxilla|pterygoid bone|sternebra|caudal vertebra|sternal region|
|hyoid region|^ossicle$|long bone$|^arm bone|^leg bone|^hand bone|^foot bone|limb bone|girdle bone|^condyle$|^trochanter$|
|subcortex|pars compacta|pars reticulata|synovial membrane|epiphyseal|epiphysis|chordate|hindlimb|limb muscle|^limb( |$)|muscle organ|pelvic complex|
|^extensor muscle|^flexor muscle|helicis|auricular muscle|notochord|ossification|mesonephr|metanephr|pronephr|foregut|midgut|hindgut|
|organ part|^anatomical structure|^septum$|zona |islet|lobule$|Lobule|corpuscle|Corpuscle|stripe|urothelium|mucosa$|smooth muscle|parenchyma|Parenchyma|Stroma|
|stroma|Endocrine|endocrine|exocrine|Exocrine|^gland$|mucous gland|serous gland|gastric gland|intestinal gland|duodenal gland|tarsal gland|
|male urethral gland|^urethral gland|paraurethral|olfactory gland|palatine gland|trachea gland|pharyngeal gland|nasopharyngeal gland|gustatory|minor salivary|saliva-|anterior lingual gland|
|corpus luteum|corpus albicans|Dorsal pancreas|Ventral pancreas|lens Fibers|lamina of|papilla$|papilla of tongue|foveola|fovea centralis|
|internodal|trabecul|node of lymph|of lymph node|of thymus|lymph node medulla|uterine horn|sinus venosus|sinoatrial valve|venosus|^stylopod|zeugopod|
|segment$|segment of|organism|appendage|^ventrum|^dorsum$|dorsal trunk|ventral trunk|^dorsal part|girdle$|
|loop of Henle|Collecting|Convolution|Bowman|canaliculus|sinusoid|Disse|lumen|follicular|foramen secundum|externally|utricle duct|
|terminal bronchus|transitional|proximal bronchiole|respiratory bronchiole|coelemic|thyroglossal|vena cava sinus|choroidal fissure|duct/ule|gingival|
|hyaloid canal|perilymph|scala|round window|oval window|rete |saccular|utric|ampullary|sensory nerve|nerve fiber|nerve bundle|fiber$|fibers|
|^ganglion|^nerve plexus|^sensory|\benteric|myenteric|ubmucous|autonomic nerve$|^autonomic|parasympathetic nerve$|sympathetic nerve$|Sympathetic nerves|^nerve root|
|tract of hypothal|forebrain bundle|olivocochlear|arcuate fiber|Interganglionic|unmyelin|commissure$.*cord|subsegment|
|^(amphiarthrosis|symphysis|synchondrosis|syndesmosis|synostosis)$|^cartilaginous joint|^fibrous joint|^condylar|^nonsynovial|synovial joint|
|synovial limb|skeletal joint|limb joint|^ligament$|^tendon$|^fascia$|aponeurosis$|skeletal ligament|nonskeletal|vinculum|visceral fascia|periodontal|
|^Capsule$|capsule of (lymph|thymus|ovary|parathyroid)|pupillary|serous membrane|mesentery of (ileum|jejunum)|lymph vasculature|efferent lymph|
|lymphatic vessel$|jugular lymphatic|facial lymphatic|pectoral lymphatic|pulmonary lymphatic|subscapular lymphatic|^abdominal lymph|^lymph node$|
|spleen venous|genicular venous|intersegmental|marginal venous|mesencephalic artery|stapedial|modiolar|spiral modiolar|central vein of liver|
|portal vessel|vasa recta|tributary of|^cortex$|Zone|Mantle|PALS|Hering|Interstitium|tract$|^meninx|mucosa |abdominal viscera|respiratory system|
|urinary tract|biliary tree|ductal tree|duct system|tracheobronchial|gonad$|ganglion X|sesamoid|fibrocartilage|^skeleton$|musculature|
|appendicular skeleton|axial skeleton|thoracic skeleton|neurocranium|splanchnocranium|articular capsule$|bone marrow cavity|medullary cavity|^mucosa|
|pectinate line|camera-type|eyeball of|^eye$|external genitalia|internal male gen|external (fe)?male|articularis|paraaortic body|Endothel|hymen|
|cochlear modiolus|spiral organ|spiral limbus|osseus spiral|macula|corneoscleral|suprachoroid|epicanthal|lacrimal lake|conjunctival|
|hair|nail|tela choroidea of telen|pars tuberalis|pars intermedia|^cerebral commissure|cerebellar commissure|
|valve cusp|leaflet|valve anulus|cardiac valve|atrioventricular valve|cardiac muscle|myocardium of|ventricle myocardium|endocardium of|epicardium of|
|heart plus|pericardial sac|cortex of (lymph|thymus)|corticomedullary|thymus lobe|ovarian (cortex|medulla)|base of glans|corona of|
|seminal vesicle$.*duct|duct of (seminal|bulbo|salivary)|prostate duct|urethral crest|sublingual duct|excretory|efferent duct|
|nerve proper|lower respiratory|upper respiratory|respiratory tract|vesicle duct|muscular coat|tenia|lobular bronchiole|subsegmental|outer cortex|
|renal lobe|duodenal ampulla|^Hilum$|osseus labyrinth|vestibular labyrinth|cochlear labyrinth|^optic foramen|^tooth|top of head|body of lateral vent.*x""".replace("|\n|", "|"))

# Finer structures worth having from the second table.
KEEP_FINER = re.compile(r"""^(accessory meningeal artery|anterior humeral circumflex artery|anterior intercostal artery|anterior interosseous artery|
|anterior division of internal iliac artery|appendicular artery|ascending palatine artery|ascending pharyngeal artery|callosomarginal artery|central retinal artery|
|circumflex scapular artery|common femoral artery|common interosseous artery|cystic artery|deep palmar arch|descending genicular artery|descending palatine artery|
|dorsal scapular artery|greater pancreatic artery|dorsal pancreatic artery|inferior gluteal artery|inferior laryngeal artery|inferior ulnar collateral artery|
|labyrinthine artery|lateral femoral circumflex artery|lateral inferior genicular artery|lateral plantar artery|lateral sacral artery|
|lateral superior genicular artery|lateral tarsal artery|left anterior descending artery|left circumflex artery|lenticulostriate artery|
|marginal artery of Drummond|medial inferior genicular artery|medial plantar artery|medial superior genicular artery|middle genicular artery|middle rectal artery|
|percardiacophrenic artery|perforating artery|pericallosal artery|plantar arch|pontine artery|posterior auricular artery|posterior descending artery|
|posterior division of internal iliac artery|posterior humeral circumflex artery|posterior intercostal artery|posterior interosseous artery|princeps pollicis artery|
|prostatic artery|radial recurrent artery|radialis indicis artery|right gastric artery|right marginal artery|short gastric artery|sphenopalatine artery|
|submental artery|superficial femoral artery|superior laryngeal artery|superior ulnar collateral artery|supraduodenal artery|suprascapular artery|thyrocervical trunk|
|tibial-peroneal trunk|vaginal artery|sinoatrial nodal artery|atrioventricular nodal artery|conus artery|
|basivertebral vein|central retinal vein|confluence of sinuses|deep cervical vein|deep dorsal vein of clitoris|dorsal venous arch of foot|
|esophageal vein|inferior gluteal vein|inferior rectal vein|intervertebral vein|jugular venous arch|lateral femoral circumflex vein|lateral sacral vein|
|left gastroepiploic vein|left superior intercostal vein|left marginal vein|lumbar vein|median antebrachial vein|occipital sinus|occipital vein|peroneal vein|
|posterior auricular vein|radial vein|right gastroepiploic vein|right superior intercostal vein|sigmoid vein|superior petrosal sinus|superior gluteal vein|superior rectal vein|
|suprascapular vein|supratrochlear vein|thoracoacromial vein|transverse cervical vein|ulnar vein|uterine vein|vesical plexus|left hepatic portal vein|right hepatic portal vein|
|anterior external vertebral venous plexus|posterior external vertebral venous plexus|superficial iliac circumflex vein|medial plantar vein|
|anterior interosseous nerve|auriculotemporal nerve|deep fibular nerve|dorsal nerve of clitoris|Dorsal scapular nerve|External laryngeal nerve|genitofemoral nerve|
|greater palatine nerve|greater petrosal nerve|iliohypogastric nerve|ilioinguinal nerve|inferior gluteal nerve|inferior rectal nerve|lateral cutaneous nerve of forearm|
|Lateral femoral cutaneous nerve|lateral pectoral nerve|lesser occipital nerve|lesser palatine nerve|long thoracic nerve|medial cutaneous nerve of arm|
|medial cutaneous nerve of forearm|medial pectoral nerve|medial sural cutaneous nerve|lateral sural cutaneous nerve|posterior antebrachial cutaneous nerve|
|posterior femoral cutaneous nerve|posterior interosseous nerve|superficial fibular nerve|superior gluteal nerve|supraclavicular nerve|supraorbital nerve|
|suprascapular nerve|supratrochlear nerve|thoracodorsal nerve|transverse cervical nerve|zygomatic nerve|dorsal ramus of spinal nerve|Nerve to subclavius|
|(first|second|third|fourth|fifth|sixth|seventh|eighth) (cervical|lumbar|sacral) spinal nerve|
|(first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth|eleventh|twelfth) thoracic spinal nerve|
|descending duodenum|ascending duodenum|superior duodenum|inferior duodenum|atrioventricular node|bronchopulmonary segment|ciliary body|cisterna chyli|clitoris|
|large intestine|small intestine|lens|sclera|moderator band|myocardium|nasopharynx|Neck of pancreas|neck of rib|palatine tonsil|renal column.*|renal papilla|renal pelvis|
|renal pyramid|terminal ileum|tonsil|conjunctiva|optic choroid|fundus of uterus|gingiva|hypodermis.*x|right lymphatic duct|left paratracheal lymph node|
|incus bone|malleus bone|stapes bone|bony vertebral centrum.*x|neural arch.*x|knee|frontal sinus of frontal bone.*x|
|clavicular facet of scapula|glenoid cavity.*|lingula of mandible|crista galli.*|cribriform plate.*|perpendicular plate.*|occipital condyle.*|pharyngeal tubercle.*|
|foramen .*|hamulus of hamate.*|hook of hamate.*|medial lip of linea aspera of femur|lateral lip of linea aspera of femur|nasal crest.*|petrous part of temporal bone|
|mastoid part of temporal bone|tympanic part of temporal bone|styloid process of temporal bone|squamous part of occipital bone|basilar part of occipital bone|
|pituitary fossa.*|hypophysial fossa.*|internal acoustic.*|superior articular process of .*lumbar vertebra|inferior articular process of .*lumbar vertebra)$""".replace("|\n|", "|"))

RENAME = dict(re.split(r"\s*=\s*", l) for l in lines("""
abdominal external oblique muscle = external oblique
internal abdominal oblique muscle = internal oblique
respiratory diaphragm muscle = diaphragm
longus capitus muscle = longus capitis
splenius capitus muscle = splenius capitis
rectus capitius posterior minor muscle = rectus capitis posterior minor
rectus capitus anterior muscle = rectus capitis anterior
tibalis anterior muscle = tibialis anterior
tibalis posterior muscle = tibialis posterior
spermatic cord muscle = cremaster
tensor fascia latae muscle = tensor fasciae latae
dartos muscle of scrotum = dartos
costal part of respiratory diaphragm muscle = costal part of diaphragm
left crus of lumbar part of respiratory diaphragm muscle = left crus of diaphragm
right crus of lumbar part of respiratory diaphragm muscle = right crus of diaphragm
lateral vertebral muscle = scalene muscles
inferior oblique extraocular muscle = inferior oblique of eye
inferior rectus extraocular muscle = inferior rectus
lateral rectus extra-ocular muscle = lateral rectus
medial rectus extraocular muscle = medial rectus
superior oblique extraocular muscle = superior oblique of eye
superior rectus extraocular muscle = superior rectus
pteryopharyngeal part of superior pharyngeal constrictor muscle = pterygopharyngeal part of superior pharyngeal constrictor
transverse muscle = transverse muscle of tongue
vertical muscle = vertical muscle of tongue
Hepatopancreatic sphincter (Sphincter of Oddi) = hepatopancreatic sphincter
Main pancreatic duct (Duct of Wirsung) = main pancreatic duct
Accessory pancreatic duct (Duct of Santorini) = accessory pancreatic duct
gastroesophageal sphincter = lower oesophageal sphincter
os coxa = hip bone
distal carpal bone 1 = trapezium
distal carpal bone 2 = trapezoid
distal carpal bone 3 = capitate
distal carpal bone 4 = hamate
distal tarsal bone 1 = medial cuneiform
distal tarsal bone 2 = intermediate cuneiform
distal tarsal bone 3 = lateral cuneiform
ulnare = triquetrum
clavicle bone = clavicle
radius bone = radius
incus bone = incus
malleus bone = malleus
stapes bone = stapes
cervical vertebra 1 = atlas
cervical vertebra 2 = axis
bulb of aorta = aortic root
celiac artery = coeliac trunk
deep femoral artery = profunda femoris artery
deep brachial artery = profunda brachii artery
peroneal artery = fibular artery
peroneal vein = fibular vein
tibial-peroneal trunk = tibiofibular trunk
percardiacophrenic artery = pericardiacophrenic artery
brachiocephalic artery = brachiocephalic trunk
circle of Willis = arterial circle of brain
appendix = vermiform appendix
camera-type eye = eyeball
body of tongue = body of tongue
vas deferens = ductus deferens
fallopian tube = uterine tube
prostate gland = prostate
thoracic mammary gland = mammary gland tissue
pituitary gland = pituitary gland
pineal body = pineal gland
common bile duct = bile duct
Common bile duct = bile duct
hepatic flexure = right colic flexure
splenic flexure = left colic flexure
Douglas' pouch = recto-uterine pouch
uterovesical pouch = vesico-uterine pouch
calcaneal tendon = calcaneal tendon
intervertebral disk = intervertebral disc
disk of temporomandibular joint = disc of temporomandibular joint
lieno-renal ligament = splenorenal ligament
upper arm = arm
lower arm = forearm
lower leg = leg
upper leg = thigh
subcutaneous = subcutaneous tissue of abdomen
anterior chest = anterior chest wall
pelvic region of trunk = pelvis
auditory nerve = cochlear nerve
spinal accessory nerve = accessory nerve
brachial nerve plexus = brachial plexus
cervical nerve plexus = cervical plexus
lumbar nerve plexus = lumbar plexus
sacral nerve plexus = sacral plexus
lumbosacral nerve plexus = lumbosacral plexus
coccygeal nerve plexus = coccygeal plexus
cardiac nerve plexus = cardiac plexus
celiac nerve plexus = coeliac plexus
pulmonary nerve plexus = pulmonary plexus
pharyngeal nerve plexus = pharyngeal plexus
cervicothoracic ganglion = stellate ganglion
inferior vagus X ganglion (nodose ganglion) = inferior ganglion of vagus nerve
superior vagus X ganglion (jugular ganglion) = superior ganglion of vagus nerve
superior glossopharyngeal IX ganglion = superior ganglion of glossopharyngeal nerve
inferior glossopharyngeal IX ganglion (petrosal ganglion) = inferior ganglion of glossopharyngeal nerve
main ciliary ganglion = ciliary ganglion
midbrain cerebral aqueduct = cerebral aqueduct
posterior horn lateral ventricle = posterior horn of lateral ventricle
inferior horn of the lateral ventricle = inferior horn of lateral ventricle
brain dura mater = cranial dura mater
renal column (column of Bertin) = renal column
proximal anal canal = upper anal canal
optic choroid = choroid
superior duodenum = superior part of duodenum
descending duodenum = descending part of duodenum
inferior duodenum = horizontal part of duodenum
ascending duodenum = ascending part of duodenum
left hepatic portal vein = left branch of portal vein
right hepatic portal vein = right branch of portal vein
hepatic portal vein = portal vein of liver
iliac blade = ala of ilium
bone marrow = bone marrow
rib = rib
mouth = mouth
thoracic aorta = thoracic aorta
fourth ventricle lateral aperture = lateral aperture of fourth ventricle
fourth ventricle median aperture = median aperture of fourth ventricle
tibial plateau of tibia = tibial plateau
head of radius of radius = head of radius
neck of radius of radius = neck of radius
shaft of radius of radius = shaft of radius
head of ulna of ulna = head of ulna
shaft of ulna of ulna = shaft of ulna
spongiose part of urethra = spongy urethra
male membranous urethra = membranous urethra
subscapular lymph node = subscapular lymph node
"""))

KIND = {"artery": "vessel", "vein": "vessel", "nerve": "nerve", "brain/spinal cord": "nerve", "muscle": "muscle", "bone": "bone", "bone part": "bone",
        "cartilage": "bone", "joint": "joint", "bursa/synovial": "joint", "ligament/tendon/fascia": "ligament", "serosa/membrane": "tissue", "gland": "organ",
        "organ/viscus": "organ", "lymphatic": "lymph", "region": "region", "space/cavity": "space"}
KIND_FIX = [  # the sources file some structures by word rather than by nature; first match wins
    (r"^(trachea|bronchus|main bronchus|secondary bronchus|tertiary bronchus|bronchiole|ureter|anus|upper anal canal|mammary duct)$", "organ"),
    (r"fat pad", "tissue"), (r"vitreous", "organ"), (r"bony part of pharyngo", "bone"), (r"dartos|tensor fasciae|sphincter|ileoc.*valve", "muscle"),
    (r"^(aortic root|thoracic aorta|sinus of Valsalva|coronary sinus)", "vessel"), (r"(arachnoid|dura|pia) mater|leptomeninx|falx|fascia|peritoneal fold|integument|subcutaneous|rectouterine fold", "tissue"),
    (r"hip bone|ilium|iliac crest|clivus|olecranon$|neck of radius|vertebra$|vertebra lamina|of frontal bone|palatine bone|palatine torus|sella|nasal concha|spine$|tegmen|fovea capitis|neck of rib|bony part", "bone"),
    (r"spinal cord|optic nerve", "nerve"),
    (r"^carina", "organ"), (r"(anterior|posterior) chamber|vitreous chamber|vallecula|inguinal ring|navicular fossa|olecranon fossa", "space"),
    (r"articular capsule|capsule of temporo", "joint"), (r"labrum", "bone"), (r"bone marrow", "tissue"), (r"orbital septum|eyelid tarsus|endometrium|pericardium|epicardium|endocardium", "tissue"),
    (r"venous plexus", "vessel"), (r"^thoracic duct|lymphatic duct", "lymph"),
    (r"tongue muscle|atrioventricular bundle|trachealis", "muscle"),
]
UNPAIRED = lines("\n".join(l for l in open("testdata/gen/terms_unpaired.txt", encoding="utf-8") if l[0] != "#"))
FIX = {r["name"]: r for r in csv.DictReader(open("testdata/gen/terms_fix.tsv", encoding="utf-8"), delimiter="\t", quoting=csv.QUOTE_NONE)}
SYMMETRIC = re.compile(r"^(left|right) (?!(atri|ventric|coronary|gastric|gastro|hepatic|colic|crus|auricle|anterior desc|circumflex|marginal|lobe|branch|lymphatic|superior intercostal))")
BRITISH = [(r"\bEsophag", "Oesophag"), (r"\besophag", "oesophag"), (r"cecum", "caecum"), (r"cecal", "caecal"), (r"\bceliac", "coeliac"), (r"\bfiber", "fibre"), (r"\bgray\b", "grey"),
           (r"\bdisk\b", "disc"), (r"tumor", "tumour"), (r"hemorrhoid", "haemorrhoid"), (r"\bfetal", "fetal"), (r"gallbladder", "gallbladder")]
FINGERS = ["thumb", "index finger", "middle finger", "ring finger", "little finger"]
TOES = ["great toe", "second toe", "third toe", "fourth toe", "little toe"]
NTH = "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth".split()


def tidy(name):
    """The sources' label in the words of the trade, British spelling."""
    n = RENAME.get(name)
    if n is None:
        n = name
        n = re.sub(r"^rib (\d+)$", lambda m: NTH[int(m[1]) - 1] + " rib", n)
        n = re.sub(r"^(cervical|thoracic|lumbar) vertebra (\d+)$", lambda m: m[1][0].upper() + m[2] + " vertebra", n)
        n = re.sub(r"^(\w+) phalanx of digit of hand (\d)$", lambda m: f"{m[1]} phalanx of {FINGERS[int(m[2]) - 1]}", n)
        n = re.sub(r"^(\w+) phalanx of digit of foot (\d)$", lambda m: f"{m[1]} phalanx of {TOES[int(m[2]) - 1]}", n)
        n = re.sub(r"^(meta\w+) bone of digit (\d)$", lambda m: f"{NTH[int(m[2]) - 1]} {m[1]} bone", n)
        n = re.sub(r" of (ilium|ischium|pubis) of os coxa$", "", n)
        n = re.sub(r"^(anterior|posterior) (superior|inferior) iliac spine of ilium$", r"\1 \2 iliac spine", n)
        n = re.sub(r" of os coxa$", " of hip bone", n)
        n = re.sub(r" of (squamous|petrous|mastoid|basilar) part of (temporal|occipital) bone", r" of \2 bone", n)
        if not re.search(r"^(thenar|hypothenar|perineal|laryngeal|suboccipital|infrahyoid|suprahyoid|masticatory|pectoral|gluteal|palatal|prevertebral|shoulder|auricular|intrinsic|extrinsic|extra-ocular|tongue|skeletal|deep transverse perineal|superficial transverse perineal|innermost|anterior|posterior|medial|lateral|superior tarsal|\w+ intercostal|intercostal|subcostal|papillary|pectinate|ciliary)\b", n):
            n = re.sub(r" muscle$", "", n)
    for a, b in BRITISH:
        n = re.sub(a, b, n)
    if n[:2] not in ("C1", "T1") and not re.match(r"^[CTLS]\d|^(Bowman|Douglas|Camper)", n):
        n = n[0].lower() + n[1:]
    return n


def latin_of(row):
    """The first plain Latin name a source gives, the others for the synonyms. From memory: none."""
    if not row["name_la"] or row["name_la_source"].startswith("memory"):
        return "", []
    names = []
    for part in row["name_la"].split(";"):
        part = re.sub(r"\s*[\[(].*$", "", part).strip().lower().replace("æ", "ae")
        part = re.sub(r"^a\. ", "arteria ", part)
        part = re.sub(r"^m\. ", "musculus ", part)
        part = re.sub(r"\b[ivx]+$", lambda m: m[0].upper(), part)
        if part and not re.match(r"^\w\. ", part) and part not in names:
            names.append(part)
    full = [n for n in names if not n.startswith(("lymphoglandul", "fibra", "regio"))]
    return (full[-1] if full and len(full) > 1 and "adrenal" not in full[0] else full[0] if full else ""), names


KINDWORD = {"artery": "a.", "vein": "v.", "nerve": "n.", "ligament": "lig.", "arteries": "aa.", "veins": "vv.", "nerves": "nn."}
ABBREV = {"inferior vena cava": "IVC", "superior vena cava": "SVC", "superior mesenteric artery": "SMA", "inferior mesenteric artery": "IMA", "superior mesenteric vein": "SMV",
          "inferior mesenteric vein": "IMV", "left anterior descending artery": "LAD", "internal carotid artery": "ICA", "external carotid artery": "ECA",
          "common carotid artery": "CCA", "internal jugular vein": "IJV", "external jugular vein": "EJV", "sternocleidomastoid": "SCM", "anterior superior iliac spine": "ASIS",
          "posterior superior iliac spine": "PSIS", "middle cerebral artery": "MCA", "anterior cerebral artery": "ACA", "posterior cerebral artery": "PCA",
          "temporomandibular joint": "TMJ", "sacro-iliac joint": "SIJ", "anterior cruciate ligament of knee joint": "ACL", "posterior cruciate ligament of knee joint": "PCL",
          "tibial collateral ligament": "MCL", "fibular collateral ligament": "LCL", "profunda femoris artery": "PFA", "superficial femoral artery": "SFA",
          "common femoral artery": "CFA", "extensor carpi radialis longus": "ECRL", "extensor carpi radialis brevis": "ECRB", "extensor carpi ulnaris": "ECU",
          "flexor carpi radialis": "FCR", "flexor carpi ulnaris": "FCU", "flexor digitorum superficialis": "FDS", "flexor digitorum profundus": "FDP",
          "flexor digitorum longus": "FDL", "flexor hallucis longus": "FHL", "extensor hallucis longus": "EHL", "extensor digitorum longus": "EDL", "flexor pollicis longus": "FPL",
          "abductor pollicis longus": "APL", "extensor pollicis longus": "EPL", "extensor pollicis brevis": "EPB", "left atrium": "LA", "right atrium": "RA", "left ventricle": "LV",
          "right ventricle": "RV", "tensor fasciae latae": "TFL", "anterior longitudinal ligament": "ALL", "posterior longitudinal ligament": "PLL", "gastro-oesophageal junction": "GOJ"}


CRANIAL = dict(zip("olfactory optic oculomotor trochlear trigeminal abducens facial vestibulocochlear glossopharyngeal vagus accessory hypoglossal".split(),
                   "I II III IV V VI VII VIII IX X XI XII".split()))
SHORT = {"vagus nerve": ["vagus"], "thyroid gland": ["thyroid"], "hip bone": ["innominate bone"], "femur": ["thigh bone"], "sciatic nerve": ["nervus ischiadicus"]}


def short_forms(name):
    """Abbreviations in use, from common practice."""
    out = [ABBREV[name]] if name in ABBREV else []
    first, _, rest = name.partition(" ")
    if rest == "nerve" and first in CRANIAL:
        out += [f"CN {CRANIAL[first]}", f"cranial nerve {CRANIAL[first]}"]
    return out


def region_of(row, name):
    r = row["region"].split(";")[0]
    if r == "pelvis/perineum":
        r = "pelvis"
    if r.startswith("back"):
        r = "back"
    if r in ("abdomen",) and re.search(r"\b(pelvic|perine|pubo|levator ani|coccygeus|iliococ|rectum|rectal|anal|anus|bulbospong|ischiocav|urethr|vesic|uter|vagin|sacro-?iliac|hip bone|acetab|sacr|prostat|ovar|pubic sym|inguinal lymph.*x|puborec|pubococ|ilium|iliac crest)", name):
        r = "pelvis"
    if r:
        return r
    for pattern, where in [
        (r"arytenoid|larynx|laryng|thyro|crico|hyoid|epiglott|pharyn|vocal|jugular|cervical|carotid|ansa|trachea.*neck|scalen|parathyroid|vestibular (fold|lig)|nuchal|accessory nerve|submandibular (gland|duct|lymph|gang)", "neck"),
        (r"cerebr|cereb|brain|crani|tongue|lingual|tooth|gingiva|salivary|mandib|maxill|palat|temporo|sphen|occipit|pariet|nas[ao]|ophthalm|optic|pterygo|sublingual|mylohyoid|circle of|otic|cochle|squamopar|frontal suture|arachnoid|pia mater|dura mater|leptomen|falx|subarach|cistern|ventric.*nerve|tela chor|mouth|oral|eye", "head"),
        (r"oesophag|thymus|bronch|pleura|cardi|thorac|costo|sterno|xiph|manubrio|mediast|interchondral|mammar|nipple|breast|azyg|aort.*plexus|costal|heart|lung|pulmon|brachiocephalic", "thorax"),
        (r"shoulder|axill|brachi|radi|uln|subscapular|supraclavic|pectoral|infraspin|biceps|triceps|musculocut|metacarp|carp|palm|subclav", "upper limb"),
        (r"femor|tibi|fibul|sciatic|poplit|calcan|obturator nerve|crural|cuneiform|tarsal|plant|saphen|sural", "lower limb"),
        (r"prostat|semin|uter|vagin|ovar|testi|test|scrot|penis|urethr|vesic|bladder|pelvi|rect|anus|anal|sacr|coccyg|hypogastr|epididym|deferens|ejacul|labi|vulva|clitor|perine|bulbo|cervix|spermat|parametr|pubic|hip\b|glans|obturator|iliac|utero|vestib", "pelvis"),
        (r"stomach|gastr|pylor|cardia|bile|hepat|cystic|colon|colic|ileo|mesenter|intestin|liver|spleen|splen|suprarenal|adrenal|renal|kidney|ureter|coeliac|lumbar|vena cava|portal|duoden|pancrea|periton|gallbladder|aort|caval|inguinal|retroperi|phrenic|diaphragm|cisterna|omentum|abdom", "abdomen"),
        (r"vertebr|spinal|ligamentum flavum|lumbar|atlant|epidural|longissimus|iliocostalis", "back"),
    ]:
        if re.search(pattern, name):
            return where
    return "all"


def main():
    rows = []
    table = list(csv.DictReader(open(SRC + "terms.tsv", encoding="utf-8"), delimiter="\t", quoting=csv.QUOTE_NONE))
    finer = list(csv.DictReader(open(SRC + "terms_extended.tsv", encoding="utf-8"), delimiter="\t", quoting=csv.QUOTE_NONE))
    for row, first in [(r, True) for r in table] + [(r, False) for r in finer]:
        src = row["name_en"]
        if first and (DROP.search(src) and src not in RENAME or SYMMETRIC.match(src) and not re.search("crus", src)):
            continue
        if not first and not KEEP_FINER.match(src):
            continue
        name = tidy(src)
        kind = KIND[row["category"]]
        for pattern, k in KIND_FIX:
            if re.search(pattern, name):
                kind = k or kind
                break
        fix = FIX.get(name, {})
        if fix.get("drop"):
            continue
        kind = fix.get("kind") or kind
        latin, more = latin_of(row)
        syn = [s.strip() for s in row["synonyms"].split("|")] + more + [src]
        m = re.match(r"^(\w+) rib$", name)
        if m and m[1] in NTH:
            syn.append(f"rib {NTH.index(m[1]) + 1}")
        m = re.match(r"^([CTL])(\d+) vertebra$", name)
        abbrev = short_forms(name)
        syn += SHORT.get(name, [])
        if m or name in ("atlas", "axis"):
            letter, no = (m[1], m[2]) if m else ("C", {"atlas": "1", "axis": "2"}[name])
            part = {"C": "cervical", "T": "thoracic", "L": "lumbar"}[letter]
            syn += [f"{NTH[int(no) - 1]} {part} vertebra", f"vertebra {letter}{no}", f"{letter}{no} vertebra"]
            abbrev.append(letter + no)
        rows.append({"id": row["uberon_id"] or row["fma_id"], "name": name, "latin": latin, "synonyms": syn, "abbreviations": abbrev, "kind": kind,
                     "region": fix.get("region") or region_of(row, name), "paired": None, "part_of": row["part_of_uberon_id"], "part_name": row["part_of_name"],
                     "fma": row["fma_id"], "source": "Uberon+HRA" if "HRA" in row["source"] and "Uberon" in row["source"] else "HRA" if "HRA" in row["source"] else "Uberon"})
    for row in csv.DictReader(open("testdata/gen/terms_extra.tsv", encoding="utf-8"), delimiter="\t", quoting=csv.QUOTE_NONE):
        name = row["name"]
        latin = name if name in row["latin"].split("|") else ""  # only where the English name is the Latin one
        rows.append({"id": row["id"], "name": name, "latin": latin, "synonyms": row["synonyms"].split("|"), "abbreviations": short_forms(name),
                     "kind": row["kind"], "region": row["region"], "paired": row["paired"], "part_of": "", "part_name": row["part_of"], "fma": "", "source": row["source"]})
    write(finish(rows))


def finish(rows):
    out, names, ids = [], {}, {}
    for r in rows:
        if r["name"] in names or r["id"] in ids:  # the same structure under two ids: the first stays, its names grow
            keep = names.get(r["name"]) or ids[r["id"]]
            keep["synonyms"] += r["synonyms"] + ([r["name"]] if r["name"] != keep["name"] else [])
            if r["paired"]:
                keep.update(paired=r["paired"], region=r["region"], kind=r["kind"], name=keep["name"])
            continue
        names[r["name"]] = ids[r["id"]] = r
        out.append(r)
    for r in out:
        n = r["name"]
        if r["paired"] is None:
            r["paired"] = "no" if n in UNPAIRED else "yes"
        r["parent"] = ids.get(r["part_of"]) or names.get(r["part_name"]) or names.get(tidy(r["part_name"]) if r["part_name"] else "")
        if r["parent"] is r:
            r["parent"] = None
    for r in out:  # part-of never runs in a ring
        seen, p = {r["id"]}, r["parent"]
        while p is not None:
            if p["id"] in seen:
                r["parent"] = None
                break
            seen.add(p["id"])
            p = p["parent"]
    taken = Counter(fold(s) for r in out for s in {r["name"], *r["synonyms"]})
    own = {fold(r["name"]) for r in out}
    for r in out:
        seen, keep = {fold(r["name"]), fold(r["latin"])}, []
        for s in r["synonyms"]:
            f = fold(s)
            # a name two structures claim decides nothing, so neither keeps it
            if re.match(r"(left|right) ", r["name"]) and not re.search(r"left|right|sinist|dext|\b(major|minor|middle|superior|posterior|anterior|LAD)", s.lower()):
                continue  # without its side the name says too little
            if s and f not in seen and taken[f] == 1 and f not in own and not re.search(r"\b(caudalis|cranialis|caudal|cranial (tibial|gluteal|vena)|cranialis|anurans?|obsolete|sensu|vertebrate|chambered|(arterial|venous|vascular|artery|aortic) tree|tree|plus branches|posterior vena cava|anterior vena cava|cartilaginous trachea|forelimb|hindlimb|zeugopod|stylopod|autopod|manus|pes)\b|[\[\](){};:]", s.lower()) and len(s) < 80:
                seen.add(f)
                keep.append(s)
        r["synonyms"] = keep[:8]
    return out


def fold(s):
    return re.sub(r"[^a-z0-9]+", " ", s.lower()).strip()


def write(rows):
    kinds = "region tissue muscle bone joint ligament vessel nerve lymph organ space".split()
    rows.sort(key=lambda r: (ORDER.index(r["region"]), kinds.index(r["kind"]), r["name"]))
    with open("assets/terms.tsv", "w", encoding="utf-8", newline="") as f:
        f.write("\t".join(COLUMNS) + "\n")
        for r in rows:
            v = dict(r, synonyms="|".join(r["synonyms"]), abbreviations="|".join(r["abbreviations"]), part_of=r["parent"]["id"] if r["parent"] else "")
            f.write("\t".join(v[c] for c in COLUMNS) + "\n")
    print(len(rows), Counter(r["kind"] for r in rows), Counter(r["region"] for r in rows), Counter(r["paired"] for r in rows))


main()

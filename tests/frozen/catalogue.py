"""What goes into the catalogue and out of it: loudspeakers, datasheets and rooms."""

from __future__ import annotations

from typing import Final

from tests.frozen.playing import Scenario, Step, asked, done, refused
from tests.frozen.rooms_and_papers import BAD_ROOM, DATASHEET, NEW_ROOM, ROOM

TOWER: Final = "'Bramble Thatch Trivet Tower'"

SPEAKER_ROWS: Final = """\
Maker,Product,Roles,Width,Height,Depth,Layout,Woofer size,Woofer count,Tweeter type,Tweeter size,Price,Price per,Currency,Sold as
Oatfell,Centre,centre,21 1/2 in,178 mm,30 cm,MTM,130,2,dome,25,480,,EUR,single
Oatfell,Tower,main,190,950,280,TM,165,1,dome,25,1200,pair,EUR,pair
"""  # noqa: E501
BAD_ROWS: Final = (
    SPEAKER_ROWS.replace("30 cm", "deep").replace("main,190", "front,19000").replace("EUR,pair", "euro,trio")
)

SPEAKERS: Final = Scenario(
    (
        *asked("all", "speaker list", wide=False, csv=False),
        *asked("centres", "speaker list --role centre --max-height 180 --max-price '700 EUR' --page-size 6"),
        *asked("page", "speaker list --page 3 --page-size 5", wide=False),
        *done("speaker list --maker 'cobble mere' --text wall --port none"),
        *done("speaker list --enclosure sealed --max-width '20 cm' --max-depth 8in"),
        *done("speaker list --text nothing-such"),
        *asked("tower", f"speaker show {TOWER}"),
        *asked("ladle", "speaker show 'COBBLE mere ladle centre'", wide=False),
        *asked("panel", "speaker show 'Chalk Wicker Hurdle Panel'", wide=False),
        *done("speaker import rows.csv --map Product=model --dry-run"),
        *done("speaker import rows.csv --map Product=model"),
        *done("speaker import rows.csv --map Product=model"),
        *done("speaker import rows.csv"),
        *refused("speaker import bad.csv --map Product=model"),
        Step("speaker import bad.csv --map Product=model --keep-good", keeps=("bad.csv.refused.csv",)),
        *refused(
            "speaker import nowhere.csv", "speaker import sheet.txt", "speaker import rows.csv --map Produkt=model"
        ),
        *refused("speaker import rows.csv --map Product", "speaker import", code=2),
        *done(
            "speaker add --maker 'Larch & Pail' --model 'Long Centre' --roles centre --width '20 1/2\"'"
            " --height '6 7/8\"'"
            " --depth 280 --layout 'W(T/M)W' --woofer-size 130 --woofer-count 2 --midrange-size 90 --midrange-count 1"
            " --tweeter-type dome --tweeter-size 25 --crossover '450 / 2.8 kHz' --sensitivity 88 --impedance-nominal 8"
            " --enclosure sealed --price 480 --currency EUR"
        ),
        *asked("added", "speaker show 'larch & pail long centre'", wide=False, csv=False),
        *refused(
            "speaker add --maker Larch --model Centre",
            "speaker add --maker 'Larch & Pail' --model 'Long Centre' --roles centre",
            "speaker add --maker Larch --model Centre --roles middle",
            "speaker add --maker Larch --model Centre --roles centre --width 12000 --layout MXM --crossover '2.8k/450'",
            "speaker add --maker Larch --model Centre --roles centre --price 480",
        ),
        *done("speaker add --from sheet.txt --maker Oatfell --series Linden --roles centre"),
        *done("speaker edit 'Larch & Pail Long Centre' --set weight=11,5 --set bung=no --set note="),
        *done("speaker edit 'Larch & Pail Long Centre' --set weight="),
        *refused(
            "speaker edit 'Larch & Pail Long Centre' --set weight=heavy",
            "speaker edit 'Larch & Pail Long Centre' --set wieght=10",
            "speaker edit 'Larch & Pail Long Centre' --set bung=yes",
            "speaker edit 'Larch & Pail Lung Centre' --set weight=10",
            "speaker edit 'Larch & Pail Long Centre' --set enclosure=open",
        ),
        *refused("speaker edit 'Larch & Pail Long Centre' --set weight", "speaker edit X", code=2),
        *done("speaker retire 'Larch & Pail Long Centre'"),
        *done("speaker retire 'Larch & Pail Long Centre'"),
        *done("speaker list --maker 'Larch & Pail'"),
        *asked("retired", "speaker list --maker 'Larch & Pail' --retired", wide=False),
        *done("speaker export all.csv --retired", "all.csv"),
        *done("speaker export all.xlsx", "all.xlsx"),
        *done("speaker import all.xlsx"),
        *done("speaker import all.csv"),
        *done("speaker retire 'Larch & Pail Long Centre' --undo"),
        *refused(
            "speaker show 'Bramble Thatch Trivet Towr'",
            "speaker show 'Tower'",
            "speaker show ''",
            "speaker retire 'No Such Thing'",
            "speaker list --max-price cheap",
            "speaker list --max-height tall",
            "speaker list --max-price '5 XYZW'",
            "speaker export no/such/folder.csv",
        ),
        *refused(
            "speaker list --role middle",
            "speaker list --page 0",
            "speaker list --format yaml",
            "speaker list --colour red",
            "speaker show",
            "speaker nothing",
            "nothing",
            "speaker",
            code=2,
        ),
    ),
    {"rows.csv": SPEAKER_ROWS, "bad.csv": BAD_ROWS, "sheet.txt": DATASHEET},
)

NAMES: Final = Scenario(
    (
        *asked("makers", "maker list", wide=False),
        *asked("series", "series list", wide=False, csv=False),
        *asked("families", "family list", wide=False, csv=False),
        *refused(
            "speaker add --maker BrambleThatch --model X --roles centre",
            "speaker add --maker 'Bramble Thatch' --series Trivett --model X --roles centre",
            f"speaker edit {TOWER} --set 'family=Kettle Mos concentric'",
            f"speaker edit {TOWER} --set maker=Oatfell",
            f"speaker rename {TOWER} --maker 'Bramble Tatch'",
            f"speaker rename {TOWER} --model 'slim tower'",
            f"speaker rename {TOWER} --model ''",
            "speaker rename 'No Such Thing' --model X",
            "maker rename 'Bramble Thatch' 'chalk wicker'",
            "maker rename 'Bramble Thatch' ' '",
            "maker remove 'bramble thatch'",
            "series merge 'Bramble Thatch Trivet' 'Plum Anvil Swage'",
            "series add 'Nobody Trivet'",
            "family remove Trivet",
        ),
        *refused(f"speaker rename {TOWER}", "maker rename X", "maker", code=2),
        *done("series add 'Bramble Thatch Trivett'"),
        *done("series add 'bramble thatch trivett'"),
        *done("speaker add --maker 'Bramble Thatch' --series Trivett --model X --roles centre"),
        *done("series merge 'Bramble Thatch Trivett' 'Bramble Thatch Trivet'"),
        *done("series add 'Bramble Thatch Hod'"),
        *done("series rename 'Bramble Thatch Hod' 'Creel'"),
        *done("series remove 'bramble thatch creel'"),
        *done("family add 'Bramble Thatch ring'"),
        *done(f"speaker rename {TOWER} --series '' --model 'Tall Tower'"),
        *done("speaker import near.csv --dry-run"),
        *done("speaker import near.csv"),
        *done("maker merge BrambleThatch 'Bramble Thatch'"),
        *done("maker rename 'Bramble Thatch' 'Bramble & Thatch'"),
        *done("family rename 'Kettle Moss concentric' 'Kettle Moss point'"),
        *done("family merge 'Kettle Moss point' 'Plum Anvil Swage'"),
        *done("speaker add --maker Larch --model A --roles centre --width 300"),
        *done("speaker add --maker Larch --model B --roles centre --weight '7 kg'"),
        *done("stock receive 'Larch B' --quantity 2 --location shop"),
        *refused("speaker remove 'larch b'", "speaker merge 'Larch B' 'larch b'", "speaker merge 'Larch B' 'Larch Z'"),
        *done("speaker merge 'Larch B' 'Larch A'"),
        *asked("merged", "speaker show 'Larch A'", wide=False, csv=False),
        *done("speaker edit 'Larch A' --set weight=8 --revision 2"),
        *refused("speaker edit 'Larch A' --set weight=9 --revision 2"),
        *done("speaker add --maker Larch --model C --roles centre"),
        *done("stock receive 'Larch C' --quantity 1 --location shop"),
        *refused("speaker merge 'Larch C' 'Larch A'"),
        *done("stock sell 'Larch C' --quantity 1 --location shop"),
        *done("speaker merge 'Larch C' 'Larch A'"),
        *done("speaker add --maker Larch --model D --roles centre"),
        *done("speaker remove 'Larch D'"),
        *done("maker add Pail"),
        *done("maker remove pail"),
        *done("speaker list --maker 'bramble & thatch'"),
        *done("speaker list --text swage"),
    ),
    {"near.csv": "maker,model,series,roles\nBrambleThatch,Y,Trivet,centre\nOatfell,Z,Linden,centre\n"},
)

DATASHEETS: Final = Scenario(
    (
        *asked("sheet", "datasheet read sheet.txt"),
        *asked("german", "datasheet read german.txt", wide=False),
        *asked("two", "datasheet read two.txt", wide=False, csv=False),
        *done("datasheet read - --format json", stdin="Width: 546 mm\nHeight: 17,8 cm\n"),
        *done("datasheet read sheet.txt --save --yes --maker Oatfell --roles centre --set weight=12,5"),
        *done("datasheet read sheet.txt --save --roles centre", stdin="y\n"),
        *refused("datasheet read sheet.txt --save --roles centre --set width=wide", "datasheet read nowhere.txt"),
        *refused(
            "datasheet read german.txt --save --yes", "datasheet read words.txt", "datasheet read two.txt --save --yes"
        ),
        *refused("datasheet read two.txt --save --yes --model One", "datasheet read - --save --maker X"),
        *refused("datasheet read sheet.txt --yes", "datasheet read sheet.txt --save --set width", "datasheet", code=2),
        *asked("stored", "speaker show 'Oatfell Linden Wren C2'", wide=False, csv=False),
    ),
    {
        "sheet.txt": DATASHEET,
        "words.txt": "Nothing but words.\n",
        "german.txt": "Abmessungen (B x H x T): 480 x 165 x 270 mm\nGewicht: 8,9 kg\n"
        "Impedanz: 4-8 Ohm\nWirkungsgrad: 88 dB\n"
        "Frequenzgang: 45 - 25.000 Hz (-6 dB)\nPreis: 590 €\n",
        "two.txt": "Maker: Oatfell\nModel: A\nType: centre\nWidth: 400 mm\n\nMaker: Oatfell\nModel: B\nWidth: 300 mm\n",
    },
    seeded=False,
)

ROOMS: Final = Scenario(
    (
        *asked("list", "room list"),
        *asked("mill", "room show 'mill house'"),
        *asked("loft", "room show 'Sail Loft'"),
        *done("room export 'Mill House'"),
        *done("room export 'Sail Loft' loft.toml", "loft.toml"),
        *done("room import loft.toml"),
        *done("room import den.toml --dry-run"),
        *done("room import den.toml"),
        *done("room show Den"),
        *done("room export Den"),
        *refused("room import bad.toml", "room import broken.toml", "room import nowhere.toml", "room show Dnn"),
        *refused("room export Nowhere", "room show 'Mill Hous'", "room export Den no/such/folder.toml"),
        *refused("room show", "room list --format text", "room import", code=2),
        *done("room new", stdin="".join(f"{answer}\n" for answer in NEW_ROOM)),
        *done("room export 'Corn Loft'"),
        Step("room new", 1, stdin="Half\n"),
        *done(
            "room edit Den --set 'screen.bottom=82 cm' --set 'name=Old Den' --add seat.end --set seat.end.distance=4m"
        ),
        *done("room show 'old den' --format csv"),
        *refused(
            "room edit 'Old Den' --set screen.botom=1",
            "room edit 'Old Den' --set seat.nobody.x=1",
            "room edit 'Old Den' --remove lamp",
            "room edit 'Old Den' --set 'name=mill house'",
            "room edit Den --set name=Loft",
            "room remove Den",
        ),
        *refused("room edit 'Old Den'", "room edit 'Old Den' --set screen", code=2),
        *done("room edit 'Old Den' --remove seat.end"),
        *done("room remove 'Old Den'"),
    ),
    {"den.toml": ROOM, "bad.toml": BAD_ROOM, "broken.toml": "name = \n"},
)


PIECES: Final = """\
Maker,Product,Kind,Channels,Power,Power into,Lowest load,Price,Currency,Tax
Tallow,Seven,receiver,7,110,8,4,900,EUR,included
Tallow,Post,stand,,,,,85,EUR,included
"""

EQUIPMENT_STEPS: Final = Scenario(
    (
        *asked("all", "equipment list"),
        *done("equipment list --kind stand --text broad"),
        *done("equipment list --text nothing-such"),
        *asked("nine", "equipment show 'copper FALLOW nine'"),
        *done("equipment show 'Latch and Spar Low Post'"),
        *done("equipment import pieces.csv --map Product=model --dry-run"),
        *done("equipment import pieces.csv --map Product=model"),
        *done("equipment import pieces.csv --map Product=model"),
        *done(
            "equipment add --maker Tallow --model Cord --kind 'speaker cable' --conductor-area '2.5 mm²' --price 2.50"
            " --currency EUR --price-per m --tax included"
        ),
        *done("equipment edit 'Tallow Post' --set bears='20 kg' --set price_per=pair"),
        *done("equipment edit 'Tallow Seven' --set model=Eight --set lowest_load="),
        *done("equipment export"),
        *done("equipment remove 'tallow cord'"),
        *done("equipment export all.toml", "all.toml"),
        *refused(
            "equipment import pieces.csv",
            "equipment import bad.csv",
            "equipment import nowhere.csv",
            "equipment add --maker Tallow --model Post --kind stand",
            "equipment add --maker Tallow --model Low --kind stand --channels 5 --price 80",
            "equipment edit 'Tallow Post' --set weight=3",
            "equipment edit 'Tallow Post' --set bears=heavy",
            "equipment edit 'Tallow Nobody' --set bears=3",
            "equipment show nobody",
            "equipment remove nobody",
        ),
        *refused("equipment add --kind", "equipment show", "equipment edit 'Tallow Post' --set bears", code=2),
    ),
    {"pieces.csv": PIECES, "bad.csv": PIECES.replace("receiver,7", "radio,0.5").replace("900,EUR", "1e9,EUX")},
)

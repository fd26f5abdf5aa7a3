"""A week in the shop: stock, quotes, suppliers and copies of the catalogue."""

from __future__ import annotations

from typing import Final

from tests.frozen.playing import Scenario, Step, asked, done, refused

TOWER: Final = "'Bramble Thatch Trivet Tower'"
SLIM: Final = "'Bramble Thatch Trivet Slim Tower'"
WIDE: Final = "'Bramble Thatch Trivet Wide Centre'"
LOW: Final = "'Kettle Moss Bobbin Low Centre'"

COUNTED: Final = f"""\
Article,Pieces,Where
{WIDE[1:-1]},9,store
{LOW[1:-1]},3,shop
"""
BAD_COUNT: Final = COUNTED.replace(",9,", ",many,").replace(LOW[1:-1], "Kettle Moss Bobbin Lw Centre")

MAPS: Final = "--map Article=speaker --map Pieces=quantity --map Where=location"
IMPORT: Final = f"stock import count.csv --reason 'March count' {MAPS}"

STOCK: Final = Scenario(
    (
        *done("stock location shop --zone Europe/Lisbon"),
        *done("stock location 'van 1'"),
        *asked("locations", "stock location", wide=False),
        *done(f"stock receive {WIDE} --quantity 6 -l shop --cost '310 EUR' --note 'first delivery'"),
        *done(f"stock receive {TOWER} -n 4 -l shop --finish walnut"),
        *done(f"stock receive {TOWER} -l store --new-finish"),
        *done(f"stock receive {SLIM} -n 2 -l shop --finish walnut"),
        *done(f"stock receive {SLIM} -l store --new-finish"),
        *done(f"stock receive {LOW} -l shop --serial A1"),
        Step(f"stock receive {LOW} -l shop --serial A2 --format json", name="received"),
        *done(f"stock receive {LOW} -l shop --serial A3 --grade demo --format csv"),
        *done(f"stock reserve {WIDE} -n 2 -l shop --job 'Mill House' --until 2025-03-20"),
        Step(f"stock reserve {WIDE} -l shop --job Barn --until '2025-03-05 18:00' --format json", name="reserved"),
        *done(f"stock reserve {LOW} -l shop --job Barn --serial A2"),
        *asked("reservations", "stock reservations"),
        *done(f"stock release {WIDE} -l shop --job 'mill house'"),
        *done(f"stock sell {WIDE} -l shop --job 'Mill House' --price '480 EUR'"),
        Step(f"stock sell {WIDE} -n 2 -l shop --format json", name="sold"),
        *done(f"stock return {WIDE} -l shop --note 'sounds rough'"),
        *done(f"stock regrade {WIDE} -l shop --grade open_box"),
        *done(f"stock transfer {WIDE} -l shop --to 'van 1' --grade open_box"),
        *done(f"stock transfer {TOWER} -n 2 -l shop --to store --finish walnut --send"),
        *done("stock list"),
        *refused("stock arrive 999", "stock arrive 1"),
        *done("stock arrive 20 -n 1"),
        *done("stock arrive 20"),
        *done(f"stock split {SLIM} -l shop --finish walnut"),
        *done(f"stock split {SLIM} -l store --serial 8841A --serial 8841B"),
        *done(f"stock count {WIDE} -n 1 -l shop --reason 'one is missing'"),
        *done(f"stock count {WIDE} -n 1 -l shop"),
        *done(f"stock write-off {LOW} -l shop --serial A3 --grade demo --reason 'fell off the van'"),
        *asked("imported", f"{IMPORT} --dry-run", wide=False),
        *done(IMPORT),
        *done(IMPORT),
        *done("who"),
        *done("history --who bert"),
        *refused("history --kind prize", "history --room Attic", "history --day 2025-02-30"),
        *asked("list", "stock list"),
        *asked("everything", "stock list --all", wide=False),
        *done("stock list -l shop"),
        *done(f"stock list {LOW}"),
        *done("stock list -l attic"),
        *done(f"stock ledger {SLIM}"),
        *asked("ledger", f"stock ledger {WIDE}"),
        *done(f"stock ledger {TOWER} --last 3"),
        *done("stock reservations", days=5),
        *asked("lapsed", "stock reservations --lapsed", wide=False),
        *done("match --room 'Mill House' --in-stock --format csv"),
        *refused(
            f"stock sell {WIDE} -n 50 -l shop",
            f"stock sell {WIDE} -n -1 -l shop",
            f"stock sell {WIDE} -n 0 -l shop",
            f"stock receive {SLIM} -n 3 -l shop",
            "stock sell 'Bramble Thatch Trivet Wide Center' -l shop",
            f"stock reserve {WIDE} -l shop --until 2025-04-01",
            f"stock reserve {WIDE} -l shop --job ' '",
            f"stock reserve {WIDE} -l shop --job J --until 2025-02-30",
            f"stock reserve {WIDE} -l shop --job J --until 2020-01-01",
            f"stock reserve {WIDE} -l shop --job J --until '2025-03-30 01:30'",
            f"stock release {WIDE} -l shop --job J",
            f"stock regrade {WIDE} -l shop --grade new",
            f"stock sell {LOW} -l shop --serial nothing",
            f"stock transfer {WIDE} -l shop --to shop",
            f"stock transfer {WIDE} -l shop --to ' '",
            f"stock count {WIDE} -n 9 -l shop",
            f"stock write-off {WIDE} -l shop",
            f"stock split {WIDE} -l shop",
            f"stock receive {WIDE} -l shop --cost free",
            f"stock receive {WIDE} -l shop --order 7",
            f"stock receive {WIDE} -l shpo",
            f"stock receive {LOW} -l shop --serial A1",
            f"stock return {LOW} -l shop --serial A1",
            f"stock sell {WIDE} -l attic",
            "stock location shop --zone Sea/Bottom",
            "stock list 'No Such'",
            "stock ledger 'No Such'",
            IMPORT.replace("count.csv", "bad.csv"),
            "stock import nowhere.csv --reason r",
            "stock arrive 20",
        ),
        *refused(
            f"stock receive {WIDE}",
            f"stock receive {WIDE} -l shop -n few",
            f"stock receive {WIDE} -l shop --grade old",
            "stock arrive one",
            "stock import count.csv",
            f"stock ledger {WIDE} --last 0",
            "stock",
            code=2,
        ),
        *done(f"stock sell {WIDE} -l store -n 2"),
        *asked("found", "stock find a1"),
        *done("stock find 8841"),
        *done("stock find nothing"),
        *refused("stock find ' '"),
        *done("stock undo 33 --note 'wrong customer'"),
        Step("stock undo 26 --format json", name="undone"),
        *done("stock undo 18 --format csv"),
        *done(f"stock ledger {SLIM}"),
        *refused("stock undo 999", "stock undo 33", "stock undo 4", "stock undo 34"),
        *asked("check", "stock check"),
    ),
    {"count.csv": COUNTED, "bad.csv": BAD_COUNT},
)

QUOTES: Final = Scenario(
    (
        *done(f"stock receive {WIDE} -n 3 -l shop"),
        *done(f"stock receive {TOWER} -n 4 -l shop"),
        *done(f"stock receive {LOW} -l shop --serial B1"),
        *done(f"stock receive {LOW} -l store --serial B2"),
        *done(f"quote make {WIDE} '1 x Bramble Thatch Trivet Tower' --job 'Mill House' --note 'by hand'"),
        Step(
            f"quote make {LOW} --job Barn --price '480 EUR' --tax-rate 20 --until 2025-03-10 --format json", name="made"
        ),
        *done(f"quote make {WIDE} -n 9 --job Barn --format csv"),
        *done(f"quote make {WIDE} --job Byre"),
        *asked("one", "quote show 1"),
        *asked("list", "quote list"),
        *done("quote accept 1 --until 2025-03-31"),
        Step("quote accept 2 -l store --format json", name="accepted"),
        *done("stock reservations"),
        *done("quote sell 1"),
        Step("quote sell 2 --serial B2 --format json", name="sold"),
        *done("quote lapse 4"),
        *asked("sold_one", "quote show 1", wide=False),
        *refused(
            "quote accept 3",
            "quote accept 1",
            "quote accept 4",
            "quote sell 3",
            "quote show 99",
            "quote lapse 1",
            "quote make 'No Such' --job J",
            f"quote make {WIDE} --job ' '",
            f"quote make {WIDE} --job J --price free",
            f"quote make {WIDE} --job J --until 2020-01-01",
            f"quote make '0 x {WIDE[1:-1]}' --job J",
            f"quote make {WIDE} --job J --tax-rate -3",
            f"quote make {SLIM} -n 3 --job J",
            "quote sell 99",
            "quote accept 3 -l attic",
        ),
        *refused(f"quote make {WIDE}", "quote show one", "quote make --job J", "quote", code=2),
        *asked("later", "quote list", wide=False),
        *done("quote list", days=30),
        *refused("quote accept 3"),
        *done("stock check"),
    ),
)

PRICES: Final = f"""\
Item,Trade price,retail,currency,per,tax
{WIDE[1:-1]},310,599,EUR,each,excluded
{TOWER[1:-1]},700,1290,EUR,pair,excluded
"""

TAKE: Final = "supplier prices 'harbour trading' prices.csv --map Item=speaker --map 'Trade price=cost'"

SUPPLIERS: Final = Scenario(
    (
        *done("supplier add 'Harbour Trading' --lead-time 21"),
        *done("supplier add 'Harbour Trading' --lead-time 14"),
        *done("supplier add 'Quay & Sons'"),
        *asked("list", "supplier list"),
        *asked("prices", f"{TAKE} --dry-run", wide=False),
        *done(TAKE),
        *done(TAKE),
        *done("supplier prices 'Harbour Trading' later.csv --from 2025-04-01 --format csv"),
        *done(f"supplier order {WIDE} --supplier 'Harbour Trading' -n 4 --expected 2025-03-20"),
        *done(f"supplier order {TOWER} --supplier 'Quay & Sons' -n 2 --job 'Mill House'"),
        *done(f"supplier order {LOW} --supplier 'Quay & Sons' -n 1"),
        *asked("orders", "supplier orders"),
        *done(f"stock receive {WIDE} -n 3 -l shop --order 1"),
        *refused(f"stock receive {WIDE} -n 3 -l shop --order 1", f"stock receive {LOW} -l shop --order 1"),
        *done("supplier cancel 3"),
        *asked("all_orders", "supplier orders --all", wide=False),
        *done("match --room 'Mill House' --in-stock --top 1"),
        *refused(
            "supplier prices 'Harbour Trading' bad.csv",
            "supplier prices Nobody prices.csv",
            "supplier prices 'Harbour Trading' nowhere.csv",
            f"supplier order {WIDE} --supplier Nobody -n 1",
            f"supplier order {WIDE} --supplier 'Quay & Sons' -n 0",
            "supplier order 'No Such' --supplier 'Quay & Sons' -n 1",
            "supplier cancel 3",
            "supplier cancel 99",
            "supplier add ' '",
            "supplier add X --lead-time -1",
            "supplier prices 'Harbour Trading' prices.csv --from soon",
            f"supplier order {WIDE} --supplier 'Quay & Sons' -n 1 --expected 2025-02-30",
        ),
        *refused(f"supplier order {WIDE} --supplier X", "supplier cancel one", "supplier add", "supplier", code=2),
        *done("stock check"),
    ),
    {
        "prices.csv": PRICES,
        "later.csv": PRICES.replace("310", "320"),
        "bad.csv": PRICES.replace("310", "dear")
        .replace("1290,EUR", "1290,Euros")
        .replace("Trivet Tower", "Trivet Towr"),
    },
)

BACKUP: Final = Scenario(
    (
        *done(f"stock receive {WIDE} -n 3 -l shop"),
        *done("backup monday.db"),
        *refused("backup monday.db", "backup no/such/folder.db"),
        *done("backup monday.db --replace"),
        *done(f"stock sell {WIDE} -n 2 -l shop"),
        *done("stock list"),
        *done("restore monday.db"),
        *asked("list", "stock list", wide=False, csv=False),
        *refused("restore nowhere.db", "restore words.txt"),
        *refused("backup", "restore", code=2),
        *done(f"stock ledger {WIDE}"),
    ),
    {"words.txt": "no catalogue\n"},
)

DELIVERED: Final = f"""\
Article,Pieces,Each,Serial no
{WIDE[1:-1]},2,"310,50 EUR",W1; W2
{TOWER[1:-1]},4,1 020 EUR,
"""
DELIVER: Final = (
    "stock deliver note.csv --delivery 4711 -l shop --map Article=speaker --map Pieces=quantity"
    " --map Each=cost --map 'Serial no=serial' --per each"
)

WEEK: Final = Scenario(
    (
        *refused("stock deliver note.csv --delivery 4711 -l shop"),
        *asked("delivery", f"{DELIVER} --dry-run", wide=False),
        *done(DELIVER),
        *refused("stock deliver note.csv --delivery 4711 -l shop", "stock deliver bad.csv --delivery 4712 -l shop"),
        *done("supplier add 'Harbour Trading' --lead-time 9"),
        *done(f"supplier article {WIDE} HT-20 --supplier 'Harbour Trading' --finish oak"),
        *asked("articles", "supplier article", wide=False),
        *refused("supplier article HT-20", f"supplier article {TOWER} ht-20 --supplier 'Harbour Trading'"),
        *done(f"supplier order {WIDE} -n 2 --supplier 'Harbour Trading' --job 'Mill House' --finish oak"),
        *done(f"stock receive {WIDE} -l shop --order 1"),
        *done("stock undo 4 --note 'of another model'"),
        *refused("stock undo 5"),
        *asked("orders", "supplier orders", wide=False),
        *refused(f"stock reserve {WIDE} -l shop --serial W1 --job 'Mill Huose' --until 2025-03-20"),
        *done("job new 'Mill Huose'"),
        *done(f"stock reserve {WIDE} -l shop --serial W1 --job 'Mill Huose' --until 2025-03-20"),
        *done("job merge 'Mill Huose' --into 'Mill House'"),
        *done("job rename 'Mill House' 'The Mill House'"),
        *refused("job rename 'The Mill House' 'Mill Huose'", "job show 'The Mil House'", "job merge a --into b"),
        *asked("jobs", "job list"),
        *asked("job", "job show 'the mill house'"),
        *done(f"stock transfer {WIDE} -l shop --to 'van 1' --job 'The Mill House' --serial W1"),
        *refused(f"stock transfer {WIDE} -l shop --to 'van 1' --job 'The Mill House' --send"),
        *refused(f"stock sell {WIDE} -l 'van 1'", f"stock return {WIDE} -l shop"),
        *done(f"quote make '4 x {TOWER[1:-1]}' --job 'The Mill House'"),
        *done("quote accept 1"),
        *done(f"quote sell 1 '2 x {TOWER[1:-1]}'"),
        *refused(f"quote sell 1 '4 x {TOWER[1:-1]}'", "quote sell 1 --finish oak"),
        *done("quote sell 1"),
        *asked(
            "discount",
            f"quote make {WIDE[:-1]}, oak' {LOW} --job Barn --discount 10 -l shop --until 2025-04-01",
            wide=False,
        ),
        *done("quote print 2 --out quote.html", "quote.html"),
        *done("stock labels --delivery 4711 --out labels.html", "labels.html"),
        *refused("stock labels --out labels.html", "stock labels -l shop --out labels.txt"),
        *refused("quote print 99 --out quote.html", f"quote make {WIDE} --job Barn --discount 110"),
        *done(f"stock lend {WIDE} -l shop --serial W2 --job Barn --until 2025-03-20"),
        *asked("loans", "stock loans"),
        *done(f"stock bring-back {WIDE} -l shop --serial W2 --job Barn"),
        *refused(f"stock bring-back {WIDE} -l shop --job Barn"),
        *done(f"stock receive {SLIM} -l shop --cost '400 EUR' --per each"),
        *done(f"stock split {SLIM} -l shop --serial A --serial B"),
        *done(f"stock join {SLIM} -l shop --serial A --serial B --pair AB"),
        *refused(f"stock join {SLIM} -l shop --serial A --serial B"),
        *done(f"supplier reorder {WIDE} --least 6 --up-to 9"),
        *refused(f"supplier reorder {WIDE}", f"supplier reorder {WIDE} --least 6 --up-to 2"),
        *asked("reorder", "supplier reorder"),
        *done(f"stock sell {WIDE} -l 'van 1' --job 'The Mill House' --serial W1 --price '480 EUR'"),
        *asked("value", "stock value"),
        *asked("margin", "stock margin --by job"),
        *asked("month", "stock margin", wide=False),
        *asked("day", "stock ledger --day 2025-03-03 --who anna --job 'the mill house'"),
        *refused("stock ledger --location shpo"),
        *done(f"stock receive {LOW} -l shop --grade demo --finish walnut"),
        *done(f"stock price {LOW} --grade demo --price '400 EUR'"),
        *asked("grades", "stock price", wide=False),
        *refused(f"stock price {LOW}", f"stock price {LOW} --grade new --price '400 EUR'"),
        *asked("available", f"stock available {LOW}", wide=False),
        *done(f"stock available {WIDE} -n 2 --finish oak"),
        *refused(f"stock sell {LOW} -l shop", f"stock sell {LOW} -l shop --grade demo"),
        *done(f"quote make {LOW} --job Barn --grade demo --finish walnut"),
        *done("stock check --format json"),
    ),
    {"note.csv": DELIVERED, "bad.csv": DELIVERED.replace(",4,", ",5,").replace("W1; W2", "W3")},
)

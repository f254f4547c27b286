"""The fixed words of publications, one table a language.

Signs and the author's own words are never translated. The letters of the units, and most words, are common practice, from
memory (FIDE Laws of Chess, appendix C.1–C.2, leave the letters to each language).
"""

from __future__ import annotations

import datetime
import re

import msgspec

from variorum.claims.facts import grouped
from variorum.claims.standing import Standing

__all__ = ["ENGLISH", "LANGUAGES", "Wording", "wording_of"]


class Wording(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that a publication prints in words of its own. Braces are filled in; `|` parts one from many."""

    language: str
    """BCP 47 tag, for the `lang` attribute."""
    quotes: tuple[str, str, str, str]
    """Double and single quotation marks, opening and closing."""
    units: dict[str, str]
    white: str
    black: str
    white_to_move: str
    black_to_move: str
    digest: str
    manuscript: str
    index_of_positions: str
    index_of_variations: str
    index_of_games: str
    order: str
    share: str
    risk: str
    price: str
    risk_and_price: str
    at_least: str
    practice: str
    playouts: str
    plan_games: str
    plan_move: str
    plan_count: str
    page: str
    beginning: str
    a_voice: str
    contents: str
    chapter: str
    after_move: str
    sections: str
    to_the_text: str
    figure: str
    figures: str
    apparatus: str
    holds: str
    contradicted: str
    undecided: str
    stale: str
    games: str
    position: str
    no_voice: str
    scale: str
    made: str
    caution: str
    months: tuple[str, ...]
    date: str
    to_play: str
    night: str
    day: str
    letters: str
    """Of king, queen, rook, bishop and knight."""
    decimal: str
    """Between a whole number and its tenths."""
    nodes: str
    games_of_sources: str
    both: str
    """Two things: `{one} and {other}`."""
    from_to: str
    """A range: `{low} to {high}`."""
    no_verdict: str
    fair_play: str
    changes: str
    no_changes: str
    more_changes: str
    change_new: str
    change_gone: str
    change_sign: str
    change_claim: str

    def standing(self, standing: Standing) -> str:
        """How a claim stands, in words; empty for one that is not judged."""
        return {
            Standing.HOLDS: self.holds,
            Standing.CONTRADICTED: self.contradicted,
            Standing.UNDECIDED: self.undecided,
            Standing.STALE: self.stale,
        }.get(standing, "")

    def date_in_words(self, date: datetime.date) -> str:
        """A date as it is printed.

        >>> ENGLISH.date_in_words(datetime.date(2026, 11, 5))
        '5 November 2026'
        """
        return self.date.format(day=date.day, month=self.months[date.month - 1], year=date.year)

    def figures_in(self, text: str) -> str:
        """A text with the decimal sign of the language.

        >>> wording_of("de").figures_in("57.4 ± 1.1 (+0.52)")
        '57,4 ± 1,1 (+0,52)'
        """
        return re.sub(r"(?<=\d)\.(?=\d)", self.decimal, text)

    def counted(self, number: int, what: str) -> str:
        """A number with its noun; `what` is a text of this table with `|`.

        >>> ENGLISH.counted(1, ENGLISH.games), ENGLISH.counted(61, ENGLISH.games)
        ('1 game', '61 games')
        """
        one, many = what.split("|")
        return f"{grouped(number)} {one if number == 1 else many}"


ENGLISH = Wording(
    language="en",
    quotes=("“", "”", "‘", "’"),
    units={"K": "king", "Q": "queen", "R": "rook", "B": "bishop", "N": "knight", "P": "pawn"},
    white="White",
    black="Black",
    white_to_move="White to move.",
    black_to_move="Black to move.",
    digest="Digest",
    manuscript="Manuscript",
    index_of_positions="Index of positions",
    index_of_variations="Index of variations",
    index_of_games="Index of games",
    order="Order",
    share="Share",
    risk="Risk",
    price="Price",
    risk_and_price="Share: of all that arrives here. Risk: what the opponent’s best way out of the order takes, in points of 100; price: how much more that is than by the best order.",
    at_least="at least {points}",
    practice="Practice",
    playouts="Games of engines",
    plan_games="Games",
    plan_move="About move",
    plan_count="{count} of {games}",
    page="Page",
    beginning="Beginning",
    a_voice="a voice",
    contents="Contents",
    chapter="Game {number}",
    after_move="After {move}.",
    sections="On this page",
    to_the_text="To the text",
    figure="Figure {number}",
    figures="Figures {first} to {last}",
    apparatus="Apparatus",
    holds="holds",
    contradicted="contradicted",
    undecided="not enough evidence",
    stale="stale",
    games="game|games",
    position="position",
    no_voice="This text shows no position that a voice has judged.",
    scale="verdicts are expected scores for White of 100, ± their uncertainty, and pawns in brackets",
    made="Set by Variorum {version} on {date}; the figures with a note were looked up on that day.",
    caution="A verdict is what a voice says at the effort it was given, and no proof.",
    months=(
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ),
    date="{day} {month} {year}",
    to_play="Left and right play the moves, Escape comes back to the diagram.",
    night="Night",
    day="Day",
    letters="KQRBN",
    decimal=".",
    nodes="nodes",
    games_of_sources="games of the sources",
    both="{one} and {other}",
    from_to="{low} to {high}",
    no_verdict="no verdict yet of {nodes} nodes or more",
    fair_play="Engine help during play breaks the FIDE Laws of Chess and event rules; this is for preparation and writing.",
    changes="Changes since {date}",
    no_changes="Nothing has changed in lines, signs and claims.",
    more_changes="And {number} more.",
    change_new="New: {line}",
    change_gone="Taken out: {line}",
    change_sign="{line} is now {new}, before {old}",
    change_claim="“{sentence}”: {new}, before: {old}",
)
GERMAN = Wording(
    language="de",
    quotes=("„", "“", "‚", "‘"),
    units={"K": "König", "Q": "Dame", "R": "Turm", "B": "Läufer", "N": "Springer", "P": "Bauer"},
    white="Weiß",
    black="Schwarz",
    white_to_move="Weiß am Zug.",
    black_to_move="Schwarz am Zug.",
    digest="Abriss",
    manuscript="Manuskript",
    index_of_positions="Verzeichnis der Stellungen",
    index_of_variations="Verzeichnis der Varianten",
    index_of_games="Verzeichnis der Partien",
    order="Zugfolge",
    share="Anteil",
    risk="Risiko",
    price="Preis",
    risk_and_price="Anteil: an allem, was hier ankommt. Risiko: was der beste Abweg des Gegners nimmt, in Punkten von 100; Preis: wie viel mehr das ist als bei der besten Zugfolge.",
    at_least="mindestens {points}",
    practice="Praxis",
    playouts="Partien von Programmen",
    plan_games="Partien",
    plan_move="Etwa im Zug",
    plan_count="{count} von {games}",
    page="Seite",
    beginning="Anfang",
    a_voice="eine Stimme",
    contents="Inhalt",
    chapter="Partie {number}",
    after_move="Nach {move}.",
    sections="Auf dieser Seite",
    to_the_text="Zum Text",
    figure="Abbildung {number}",
    figures="Abbildungen {first} bis {last}",
    apparatus="Apparat",
    holds="trifft zu",
    contradicted="widerlegt",
    undecided="nicht genug Belege",
    stale="veraltet",
    games="Partie|Partien",
    position="Stellung",
    no_voice="Dieser Text zeigt keine Stellung, die eine Stimme beurteilt hat.",
    scale="Urteile sind Erwartungswerte für Weiß von 100, ± ihre Unsicherheit, in Klammern Bauerneinheiten",
    made="Gesetzt von Variorum {version} am {date}; die Zahlen mit einer Anmerkung wurden an diesem Tag nachgeschlagen.",
    caution="Ein Urteil ist, was eine Stimme bei dem Aufwand sagt, der ihr gegeben wurde, und kein Beweis.",
    months=(
        "Januar",
        "Februar",
        "März",
        "April",
        "Mai",
        "Juni",
        "Juli",
        "August",
        "September",
        "Oktober",
        "November",
        "Dezember",
    ),
    date="{day}. {month} {year}",
    to_play="Links und rechts spielen die Züge nach, Escape kehrt zum Diagramm zurück.",
    night="Nacht",
    day="Tag",
    letters="KDTLS",
    decimal=",",
    nodes="Knoten",
    games_of_sources="Partien der Quellen",
    both="{one} und {other}",
    from_to="{low} bis {high}",
    no_verdict="noch kein Urteil von {nodes} Knoten oder mehr",
    fair_play="Hilfe durch Programme während einer Partie verstößt gegen die FIDE-Regeln und die der Turniere; dies dient der Vorbereitung und dem Schreiben.",
    changes="Änderungen seit dem {date}",
    no_changes="An Varianten, Zeichen und Behauptungen hat sich nichts geändert.",
    more_changes="Und {number} weitere.",
    change_new="Neu: {line}",
    change_gone="Entfallen: {line}",
    change_sign="{line} ist jetzt {new}, vorher {old}",
    change_claim="„{sentence}“: {new}, vorher: {old}",
)
SPANISH = Wording(
    language="es",
    quotes=("«", "»", "“", "”"),
    units={"K": "rey", "Q": "dama", "R": "torre", "B": "alfil", "N": "caballo", "P": "peón"},
    white="Blancas",
    black="Negras",
    white_to_move="Juegan blancas.",
    black_to_move="Juegan negras.",
    digest="Resumen",
    manuscript="Manuscrito",
    index_of_positions="Índice de posiciones",
    index_of_variations="Índice de variantes",
    index_of_games="Índice de partidas",
    order="Orden",
    share="Parte",
    risk="Riesgo",
    price="Precio",
    risk_and_price="Parte: de todo lo que llega aquí. Riesgo: lo que se lleva el mejor desvío del rival, en puntos sobre 100; precio: cuánto más es eso que con el mejor orden.",
    at_least="al menos {points}",
    practice="Práctica",
    playouts="Partidas de programas",
    plan_games="Partidas",
    plan_move="Hacia la jugada",
    plan_count="{count} de {games}",
    page="Página",
    beginning="Comienzo",
    a_voice="una voz",
    contents="Contenido",
    chapter="Partida {number}",
    after_move="Tras {move}.",
    sections="En esta página",
    to_the_text="Al texto",
    figure="Figura {number}",
    figures="Figuras {first} a {last}",
    apparatus="Aparato",
    holds="se sostiene",
    contradicted="refutada",
    undecided="sin pruebas suficientes",
    stale="anticuada",
    games="partida|partidas",
    position="posición",
    no_voice="Este texto no muestra ninguna posición que una voz haya juzgado.",
    scale="los juicios son puntuaciones esperadas de las blancas sobre 100, ± su incertidumbre, y entre paréntesis peones",
    made="Compuesto por Variorum {version} el {date}; las cifras con nota se consultaron ese día.",
    caution="Un juicio es lo que dice una voz con el esfuerzo que se le dio, y no una prueba.",
    months=(
        "enero",
        "febrero",
        "marzo",
        "abril",
        "mayo",
        "junio",
        "julio",
        "agosto",
        "septiembre",
        "octubre",
        "noviembre",
        "diciembre",
    ),
    date="{day} de {month} de {year}",
    to_play="Izquierda y derecha recorren las jugadas, Escape vuelve al diagrama.",
    night="Noche",
    day="Día",
    letters="RDTAC",
    decimal=",",
    nodes="nodos",
    games_of_sources="partidas de las fuentes",
    both="{one} y {other}",
    from_to="{low} a {high}",
    no_verdict="aún no hay juicio de {nodes} nodos o más",
    fair_play="La ayuda de programas durante la partida infringe las Leyes del Ajedrez de la FIDE y las reglas de los torneos; esto sirve para preparar y escribir.",
    changes="Cambios desde el {date}",
    no_changes="Nada ha cambiado en variantes, signos y afirmaciones.",
    more_changes="Y {number} más.",
    change_new="Nuevo: {line}",
    change_gone="Suprimido: {line}",
    change_sign="{line} es ahora {new}, antes {old}",
    change_claim="«{sentence}»: {new}, antes: {old}",
)
FRENCH = Wording(
    language="fr",
    quotes=("«\u00a0", "\u00a0»", "“", "”"),
    units={"K": "roi", "Q": "dame", "R": "tour", "B": "fou", "N": "cavalier", "P": "pion"},
    white="Blancs",
    black="Noirs",
    white_to_move="Trait aux blancs.",
    black_to_move="Trait aux noirs.",
    digest="Abrégé",
    manuscript="Manuscrit",
    index_of_positions="Index des positions",
    index_of_variations="Index des variantes",
    index_of_games="Index des parties",
    order="Ordre",
    share="Part",
    risk="Risque",
    price="Prix",
    risk_and_price="Part : de tout ce qui arrive ici. Risque : ce que prend la meilleure déviation de l’adversaire, en points sur 100 ; prix : ce que c’est de plus que par le meilleur ordre.",
    at_least="au moins {points}",
    practice="Pratique",
    playouts="Parties de programmes",
    plan_games="Parties",
    plan_move="Vers le coup",
    plan_count="{count} sur {games}",
    page="Page",
    beginning="Début",
    a_voice="une voix",
    contents="Table des matières",
    chapter="Partie {number}",
    after_move="Après {move}.",
    sections="Sur cette page",
    to_the_text="Vers le texte",
    figure="Figure {number}",
    figures="Figures {first} à {last}",
    apparatus="Apparat",
    holds="confirmé",
    contradicted="réfuté",
    undecided="preuves insuffisantes",
    stale="périmé",
    games="partie|parties",
    position="position",
    no_voice="Ce texte ne montre aucune position qu’une voix ait jugée.",
    scale="les jugements sont des scores attendus des blancs sur 100, ± leur incertitude, et entre parenthèses des pions",
    made="Composé par Variorum {version} le {date}; les chiffres accompagnés d’une note ont été consultés ce jour-là.",
    caution="Un jugement est ce que dit une voix avec l’effort qui lui a été donné, et non une preuve.",
    months=(
        "janvier",
        "février",
        "mars",
        "avril",
        "mai",
        "juin",
        "juillet",
        "août",
        "septembre",
        "octobre",
        "novembre",
        "décembre",
    ),
    date="{day} {month} {year}",
    to_play="Gauche et droite font défiler les coups, Échap revient au diagramme.",
    night="Nuit",
    day="Jour",
    letters="RDTFC",
    decimal=",",
    nodes="nœuds",
    games_of_sources="parties des sources",
    both="{one} et {other}",
    from_to="{low} à {high}",
    no_verdict="pas encore de jugement de {nodes} nœuds ou plus",
    fair_play="L’aide de programmes pendant une partie enfreint les Règles du jeu de la FIDE et celles des tournois; ceci sert à préparer et à écrire.",
    changes="Changements depuis le {date}",
    no_changes="Rien n’a changé dans les variantes, les signes et les affirmations.",
    more_changes="Et {number} de plus.",
    change_new="Nouveau : {line}",
    change_gone="Supprimé : {line}",
    change_sign="{line} est maintenant {new}, auparavant {old}",
    change_claim="« {sentence} » : {new}, auparavant : {old}",
)

LANGUAGES = {words.language: words for words in (ENGLISH, GERMAN, SPANISH, FRENCH)}
"""By the language's tag, as the setting gives it."""


def wording_of(language: str) -> Wording:
    """The table for a language tag; its region does not count. Unknown languages get English words."""
    return LANGUAGES.get(language.partition("-")[0].lower(), ENGLISH)

"""A UCI program for the tests that behaves as its first argument says: well, or badly in one way.

It moves by the alphabet. What it says is by the protocol's own text; nothing of it is chess knowledge.
"""

import sys
import time

import chess


def say(text: str) -> None:
    print(text, flush=True)


def search(board: chess.Board, manner: str, lines: int) -> None:
    moves = sorted(board.legal_moves, key=chess.Move.uci)
    if manner == "dies":
        say("info depth 1 nodes 10 score cp 5 pv " + moves[0].uci())
        sys.exit(1)
    if manner == "hangs":
        time.sleep(3600)
    if manner == "floods":
        while True:
            sys.stdout.write("x" * 65536)
    if manner == "babbles":
        say("info depth 1 multipv 1000000000 nodes 10 score cp 5 pv " + moves[0].uci())
        say("nonsense \x01")
        sys.stdout.buffer.write(b"\xff\xfe not text\n")
        say("info depth x score cp y pv z")
    if manner == "illegal":
        say("bestmove a1a8")
        return
    if manner == "mute":
        say("bestmove " + moves[0].uci())
        return
    odds = " wdl 300 500 200" if manner == "odds" else ""
    for depth in (1, 2, 3):
        for rank, move in enumerate(moves[:lines], 1):
            score = f"cp {100 * depth - 10 * rank}{odds}"
            say(f"info depth {depth} multipv {rank} nodes {depth * 1000} score {score} pv {move.uci()}")
    if manner == "changes":
        say(f"info depth 4 multipv 1 nodes 4000 score cp 500 lowerbound pv {moves[1].uci()}")
        say(f"info depth 4 multipv 1 nodes 4100 score cp 450 pv {moves[1].uci()}")
        say("bestmove " + moves[1].uci())
        return
    say("bestmove " + moves[0].uci())


def main() -> None:
    manner = sys.argv[1]
    if manner == "silent":
        time.sleep(3600)
    board, lines = chess.Board(), 1
    for command in sys.stdin:
        words = command.split()
        match words[:1]:
            case ["uci"]:
                say("id name Fake 7")
                say("option name MultiPV type spin default 1 min 1 max 5")
                say("option name Threads type spin default 4 min 1 max 64")
                say("option name Style type combo default calm var calm var wild")
                say("option name UCI_Chess960 type check default false")
                if manner == "odds":
                    say("option name UCI_ShowWDL type check default false")
                say("uciok")
            case ["isready"]:
                say("readyok")
            case ["setoption"] if words[2] == "MultiPV":
                lines = int(words[4])
            case ["setoption"] if words[2] == "UCI_Chess960":
                board.chess960 = words[4] == "true"
            case ["position"]:
                at = words.index("moves") if "moves" in words else len(words)
                board = chess.Board(chess960=board.chess960)
                if words[1] == "fen":
                    board.set_fen(" ".join(words[2:at]))
                for move in words[at + 1 :]:
                    board.push_uci(move)
            case ["go"]:
                search(board, manner, lines)
            case ["quit"]:
                return


if __name__ == "__main__":
    main()

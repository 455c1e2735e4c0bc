"""Simplex Roman, the single-stroke letters of A. V. Hershey, as a table.

Each entry holds the left and right edge of a letter's advance, then its strokes, one stroke
a word; a coordinate is one character, its distance from "R". x runs right and y down; a
capital stands on y = 9 and reaches y = -12. Source: A. V. Hershey, Calligraphy for
Computers, 1967; tables in NBS Special Publication 424.

The notice that travels with these letters:

This distribution of the Hershey Fonts may be used by anyone for any purpose, commercial or
otherwise, providing that:

1. The following acknowledgements must be distributed with the font data:
   - The Hershey Fonts were originally created by Dr. A. V. Hershey while working at the
     U. S. National Bureau of Standards.
   - The format of the Font data in this distribution was originally created by James Hurt,
     Cognition, Inc., 900 Technology Park Drive, Billerica, MA 01821
     (mit-eddie!ci-dandelion!hurt)
2. The font data in this distribution may be converted into any other format *EXCEPT* the
   format distributed by the U.S. NTIS (which organization holds the rights to the
   distribution and use of the font data in that particular format). Not that anybody would
   really *want* to use their format... each point is described in eight bytes as "xxx yyy:",
   where xxx and yyy are the coordinate values as ASCII numbers.
"""

from __future__ import annotations

from typing import Final

#: y of the foot and of the head of a capital, in table units (y runs down).
BASE_LINE: Final = 9
CAP_LINE: Final = -12

SIMPLEX: Final[dict[str, str]] = {
    " ": "JZ",
    "!": "MWRFRT RYQZR[SZRY",
    '"': "JZNFNM VFVM",
    "#": "H]SBLb YBRb LOZO KUYU",
    "$": "H\\PBP_ TBT_ YIWGTFPFMGKIKKLMMNOOUQWRXSYUYXWZT[P[MZKX",
    "%": "F^[FI[ NFPHPJOLMMKMIKIIJGLFNFPGSHVHYG[F WTUUTWTYV[X[ZZ[X[VYTWT",
    "&": "E_\\O\\N[MZMYNXPVUTXRZP[L[JZIYHWHUISJRQNRMSKSIRGPFNGMIMKNNPQUXWZY[[[\\Z\\Y",
    "'": "MWRHQGRFSGSIRKQL",
    "(": "KYVBTDRGPKOPOTPYR]T`Vb",
    ")": "KYNBPDRGTKUPUTTYR]P`Nb",
    "*": "JZRFRR MIWO WIMO",
    "+": "E_RIR[ IR[R",
    ",": "MWSZR[QZRYSZS\\R^Q_",
    "-": "E_IR[R",
    ".": "MWRYQZR[SZRY",
    "/": "G][BIb",
    "0": "H\\QFNGLJKOKRLWNZQ[S[VZXWYRYOXJVGSFQF",
    "1": "H\\NJPISFS[",
    "2": "H\\LKLJMHNGPFTFVGWHXJXLWNUQK[Y[",
    "3": "H\\MFXFRNUNWOXPYSYUXXVZS[P[MZLYKW",
    "4": "H\\UFKTZT UFU[",
    "5": "H\\WFMFLOMNPMSMVNXPYSYUXXVZS[P[MZLYKW",
    "6": "H\\XIWGTFRFOGMJLOLTMXOZR[S[VZXXYUYTXQVOSNRNOOMQLT",
    "7": "H\\YFO[ KFYF",
    "8": "H\\PFMGLILKMMONSOVPXRYTYWXYWZT[P[MZLYKWKTLRNPQOUNWMXKXIWGTFPF",
    "9": "H\\XMWPURRSQSNRLPKMKLLINGQFRFUGWIXMXRWWUZR[P[MZLX",
    ":": "MWRMQNROSNRM RYQZR[SZRY",
    ";": "MWRMQNROSNRM SZR[QZRYSZS\\R^Q_",
    "<": "F^ZIJRZ[",
    "=": "E_IO[O IU[U",
    ">": "F^JIZRJ[",
    "?": "I[LKLJMHNGPFTFVGWHXJXLWNVORQRT RYQZR[SZRY",
    "@": (
        "E`WNVLTKQKOLNMMPMSNUPVSVUUVS QKOMNPNSOUPV WKVSVUXVZV\\T]Q]O\\L[JYHWGTFQFNGLHJJ"
        "ILHOHRIUJWLYNZQ[T[WZYYZX XKWSWUXV"
    ),
    "A": "I[RFJ[ RFZ[ MTWT",
    "B": "G\\KFK[ KFTFWGXHYJYLXNWOTP KPTPWQXRYTYWXYWZT[K[",
    "C": "H]ZKYIWGUFQFOGMILKKNKSLVMXOZQ[U[WZYXZV",
    "D": "G\\KFK[ KFRFUGWIXKYNYSXVWXUZR[K[",
    "E": "H[LFL[ LFYF LPTP L[Y[",
    "F": "HZLFL[ LFYF LPTP",
    "G": "H]ZKYIWGUFQFOGMILKKNKSLVMXOZQ[U[WZYXZVZS USZS",
    "H": "G]KFK[ YFY[ KPYP",
    "I": "NVRFR[",
    "J": "JZVFVVUYTZR[P[NZMYLVLT",
    "K": "G\\KFK[ YFKT POY[",
    "L": "HYLFL[ L[X[",
    "M": "F^JFJ[ JFR[ ZFR[ ZFZ[",
    "N": "G]KFK[ KFY[ YFY[",
    "O": "G]PFNGLIKKJNJSKVLXNZP[T[VZXXYVZSZNYKXIVGTFPF",
    "P": "G\\KFK[ KFTFWGXHYJYMXOWPTQKQ",
    "Q": "G]PFNGLIKKJNJSKVLXNZP[T[VZXXYVZSZNYKXIVGTFPF SWY]",
    "R": "G\\KFK[ KFTFWGXHYJYLXNWOTPKP RPY[",
    "S": "H\\YIWGTFPFMGKIKKLMMNOOUQWRXSYUYXWZT[P[MZKX",
    "T": "JZRFR[ KFYF",
    "U": "G]KFKULXNZQ[S[VZXXYUYF",
    "V": "I[JFR[ ZFR[",
    "W": "F^HFM[ RFM[ RFW[ \\FW[",
    "X": "H\\KFY[ YFK[",
    "Y": "I[JFRPR[ ZFRP",
    "Z": "H\\YFK[ KFYF K[Y[",
    "[": "KYOBOb PBPb OBVB ObVb",
    "\\": "KYKFY^",
    "]": "KYTBTb UBUb NBUB NbUb",
    "^": "JZPLRITL MORJWO RJR[",
    "_": "JZJ]Z]",
    "`": "MWSFRGQIQKRLSKRJ",
    "a": "I\\XMX[ XPVNTMQMONMPLSLUMXOZQ[T[VZXX",
    "b": "H[LFL[ LPNNPMSMUNWPXSXUWXUZS[P[NZLX",
    "c": "I[XPVNTMQMONMPLSLUMXOZQ[T[VZXX",
    "d": "I\\XFX[ XPVNTMQMONMPLSLUMXOZQ[T[VZXX",
    "e": "I[LSXSXQWOVNTMQMONMPLSLUMXOZQ[T[VZXX",
    "f": "MYWFUFSGRJR[ OMVM",
    "g": "I\\XMX]W`VaTbQbOa XPVNTMQMONMPLSLUMXOZQ[T[VZXX",
    "h": "I\\MFM[ MQPNRMUMWNXQX[",
    "i": "NVQFRGSFREQF RMR[",
    "j": "MWRFSGTFSERF SMS^RaPbNb",
    "k": "IZMFM[ WMMW QSX[",
    "l": "NVRFR[",
    "m": "CaGMG[ GQJNLMOMQNRQR[ RQUNWMZM\\N]Q][",
    "n": "I\\MMM[ MQPNRMUMWNXQX[",
    "o": "I\\QMONMPLSLUMXOZQ[T[VZXXYUYSXPVNTMQM",
    "p": "H[LMLb LPNNPMSMUNWPXSXUWXUZS[P[NZLX",
    "q": "I\\XMXb XPVNTMQMONMPLSLUMXOZQ[T[VZXX",
    "r": "KXOMO[ OSPPRNTMWM",
    "s": "J[XPWNTMQMNNMPNRPSUTWUXWXXWZT[Q[NZMX",
    "t": "MYRFRWSZU[W[ OMVM",
    "u": "I\\MMMWNZP[S[UZXW XMX[",
    "v": "JZLMR[ XMR[",
    "w": "G]JMN[ RMN[ RMV[ ZMV[",
    "x": "J[MMX[ XMM[",
    "y": "JZLMR[ XMR[P_NaLbKb",
    "z": "J[XMM[ MMXM M[X[",
    "{": ("KYTBRCQDPFPHQJRKSMSOQQ RCQEQGRISJTLTNSPORSTTVTXSZR[Q]Q_Ra QSSUSWRYQZP\\P^Q`RaTb"),
    "|": "NVRBRb",
    "}": ("KYPBRCSDTFTHSJRKQMQOSQ RCSESGRIQJPLPNQPURQTPVPXQZR[S]S_Ra SSQUQWRYSZT\\T^S`RaPb"),
    "~": "F^IUISJPLONOPPTSVTXTZS[Q ISJQLPNPPQTTVUXUZT[Q[O",
}

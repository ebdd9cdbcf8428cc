"""The code lists that an invoice by EN 16931 draws on, as far as a hire bill needs them."""

from __future__ import annotations

# ISO 3166-1 alpha-2, and XI (Northern Ireland) and 1A (Kosovo) as the standard's own list has them.
COUNTRIES = frozenset(
    """
    1A AD AE AF AG AI AL AM AO AQ AR AS AT AU AW AX AZ BA BB BD BE BF BG BH BI BJ BL BM BN BO BQ BR BS BT BV BW
    BY BZ CA CC CD CF CG CH CI CK CL CM CN CO CR CU CV CW CX CY CZ DE DJ DK DM DO DZ EC EE EG EH ER ES ET FI FJ
    FK FM FO FR GA GB GD GE GF GG GH GI GL GM GN GP GQ GR GS GT GU GW GY HK HM HN HR HT HU ID IE IL IM IN IO IQ
    IR IS IT JE JM JO JP KE KG KH KI KM KN KP KR KW KY KZ LA LB LC LI LK LR LS LT LU LV LY MA MC MD ME MF MG MH
    MK ML MM MN MO MP MQ MR MS MT MU MV MW MX MY MZ NA NC NE NF NG NI NL NO NP NR NU NZ OM PA PE PF PG PH PK PL
    PM PN PR PS PT PW PY QA RE RO RS RU RW SA SB SC SD SE SG SH SI SJ SK SL SM SN SO SR SS ST SV SX SY SZ TC TD
    TF TG TH TJ TK TL TM TN TO TR TT TV TW TZ UA UG UM US UY UZ VA VC VE VG VI VN VU WF WS XI YE YT ZA ZM ZW
    """.split()  # noqa: SIM905
)

# Schemes of electronic addresses (the EAS list).
SCHEMES = frozenset(
    """
    0002 0007 0009 0037 0060 0088 0096 0097 0106 0130 0135 0142 0147 0151 0154 0158 0170 0177 0183 0184 0188
    0190 0191 0192 0193 0194 0195 0196 0198 0199 0200 0201 0202 0203 0204 0205 0208 0209 0210 0211 0212 0213
    0215 0216 0217 0218 0219 0220 0221 0225 0230 0235 0240 0244 0242 0245 0246 0248 9910 9913 9914 9915 9918
    9919 9920 9922 9923 9924 9925 9926 9927 9928 9929 9930 9931 9932 9933 9934 9935 9936 9937 9938 9939 9940
    9941 9942 9943 9944 9945 9946 9947 9948 9949 9950 9951 9952 9953 9957 9959 AN AQ AS AU EM
    """.split()  # noqa: SIM905
)

# UN/ECE Recommendation 20: one, piece, day, week, month.
ONE, PIECE, DAY, WEEK, MONTH = "C62", "H87", "DAY", "WEE", "MON"
UNITS = frozenset({ONE, PIECE, DAY, WEEK, MONTH, "MTR", "KGM", "HUR", "EA"})

# UNTDID 5305 as EN 16931 restricts it, with the letters its rules are named by.
CATEGORIES = {
    "S": "BR-S",
    "Z": "BR-Z",
    "E": "BR-E",
    "AE": "BR-AE",
    "K": "BR-IC",
    "G": "BR-G",
    "O": "BR-O",
    "L": "BR-AF",
    "M": "BR-AG",
}
CATEGORY_WORDS = {
    "S": "standard rate",
    "Z": "zero rate",
    "E": "exempt",
    "AE": "reverse charge",
    "K": "supply within the Community",
    "G": "export",
    "O": "not subject to tax",
    "L": "general indirect tax of the Canary Islands",
    "M": "tax of Ceuta and Melilla",
}
# Categories that owe a reason why no tax is charged (BR-E-10, BR-AE-10, BR-IC-10, BR-G-10, BR-O-10), with the words
# the rules themselves ask for. An exemption's own ground must come from the terms; this is what is said without one.
REASONS = {
    "E": "Exempt from tax",
    "AE": "Reverse charge",
    "K": "Intra-community supply",
    "G": "Export outside the EU",
    "O": "Not subject to VAT",
}

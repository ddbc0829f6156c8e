"""NIST/ITL Statistical Reference Datasets, linear least squares: data and certified values.

Source: National Institute of Standards and Technology, Statistical Reference Datasets, Linear Least
Squares Regression, datasets NoInt1 and NoInt2 (K. Eberhardt, generated) and Norris (J. Norris, NIST,
calibration of ozone monitors), certified 1997. https://www.itl.nist.gov/div898/strd/lls/lls.shtml
"""

NO_INTERCEPT_1 = {
    "x": (60, 61, 62, 63, 64, 65, 66, 67, 68, 69, 70),
    "y": (130, 131, 132, 133, 134, 135, 136, 137, 138, 139, 140),
    "values": (2.07438016528926,),
    "standard_error": (0.0165289256198347,),
    "residual_standard_deviation": 3.56753034006338,
}
NO_INTERCEPT_2 = {
    "x": (4, 5, 6),
    "y": (3, 4, 4),
    "values": (0.727272727272727,),
    "standard_error": (0.0420827318078432,),
    "residual_standard_deviation": 0.369274472937998,
}
NORRIS = {
    "x": (
        0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
        447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1,
        118.3, 229.2, 669.1, 448.9, 0.5,
    ),
    "y": (
        0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
        448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2,
        117.6, 228.9, 668.4, 449.2, 0.2,
    ),
    "values": (-0.262323073774029, 1.00211681802045),
    "standard_error": (0.232818234301152, 0.000429796848199937),
    "residual_standard_deviation": 0.884796396144373,
}

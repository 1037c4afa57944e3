#!/bin/sh
# Makes the four font files of this folder from the release files of Inter 4.1
# (Inter-Regular.woff2 and Inter-SemiBold.woff2 in the folder named as $1).
# Needs pyftsubset of fonttools (4.68.0 was used) with brotli (1.2.1).
set -eu
letters="U+0020-007E,U+00A0-017F,U+02BB-02BC"
marks="U+2010-2015,U+2018-201E,U+2022,U+2026,U+2030,U+2032-2033,U+2039-203A"
raised="U+2070,U+2074-2079,U+207A-207B,U+2080-2089"
signs="U+2190-2193,U+2212,U+2215,U+2219,U+221A,U+221E,U+2248,U+2260,U+2264-2265"
shapes="U+25A0-25A1,U+25B2-25B3,U+25BC,U+25CF"
greek="U+0394,U+03A9,U+03B1,U+03B2,U+03BB,U+03BC,U+03C4"
for weight in Regular SemiBold; do
    python3 -c "
import sys
from fontTools.ttLib import TTFont
font = TTFont(sys.argv[1], recalcTimestamp=False); font.flavor = None; font.save(sys.argv[2])
" "$1/Inter-$weight.woff2" "whole-$weight.ttf"
    for flavor in ttf woff2; do
        [ $flavor = ttf ] && as= || as=--flavor=woff2
        pyftsubset "whole-$weight.ttf" $as --no-hinting --layout-features="" \
            --unicodes="$letters,$marks,$raised,$signs,$shapes,$greek" \
            --name-IDs="0,1,2,3,4,5,6,13,14,16,17" --output-file="Inter-$weight.$flavor"
    done
    rm "whole-$weight.ttf"
done

/* Distance and bearing between two places on WGS 84. No page is touched here; one global, `journalGeodesic`:

     inverse(lat1, lon1, lat2, lon2)    {metres, bearing}: along the shortest way, and the direction in which that begins,
                                        in degrees from north by east, 0 to 360; null where both are one place
   Sources: C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87:43-55 (2013), section 4, for finding the direction
   also where the places are nearly opposite (here by halving, which needs no good beginning); T. Vincenty, Direct and
   inverse solutions of geodesics on the ellipsoid, Survey Review 23(176):88-93 (1975), for the series: within 0.5 mm. */
"use strict";

globalThis.journalGeodesic = (() => {
  const A_M = 6378137;
  const F = 1 / 298.257223563;
  const B_M = A_M * (1 - F);
  const RAD = Math.PI / 180;
  const TINY = 1e-300;

  /** Where the way from one place begins in the direction alpha1, and what it comes to at the latitude of the other.
      Reduced latitudes, that of the first the farther from the equator, and south of it. */
  const way = (beta1, beta2, alpha1) => {
    const sinAlpha0 = Math.sin(alpha1) * Math.cos(beta1);
    const cosSqAlpha0 = 1 - sinAlpha0 ** 2;
    const [c1, c2] = [Math.cos(beta1), Math.cos(beta2)];
    const more = c1 < -Math.sin(beta1) ? (c2 - c1) * (c1 + c2) : (Math.sin(beta1) - Math.sin(beta2)) * (Math.sin(beta1) + Math.sin(beta2));
    const cosAlpha2 = c1 === c2 && Math.abs(beta1) === Math.abs(beta2)
      ? Math.abs(Math.cos(alpha1))
      : Math.sqrt(Math.max(0, (Math.cos(alpha1) * c1) ** 2 + more)) / c2;
    const sigma1 = Math.atan2(Math.sin(beta1), Math.cos(alpha1) * c1);
    const sigma2 = Math.atan2(Math.sin(beta2), cosAlpha2 * c2);
    const omega1 = Math.atan2(sinAlpha0 * Math.sin(sigma1), Math.cos(sigma1));
    const omega2 = Math.atan2(sinAlpha0 * Math.sin(sigma2), Math.cos(sigma2));
    const sigma = Math.max(0, sigma2 - sigma1);
    const cos2m = Math.cos(sigma1 + sigma2);
    const c = (F / 16) * cosSqAlpha0 * (4 + F * (4 - 3 * cosSqAlpha0));
    const bend = sigma + c * Math.sin(sigma) * (cos2m + c * Math.cos(sigma) * (2 * cos2m ** 2 - 1));
    const lambda = omega2 - omega1 - (1 - c) * F * sinAlpha0 * bend;
    return { lambda, sigma, cos2m, cosSqAlpha0, alpha2: Math.atan2(sinAlpha0 / c2, cosAlpha2) };
  };

  const metresOf = ({ sigma, cos2m, cosSqAlpha0 }) => {
    const uSq = (cosSqAlpha0 * (A_M ** 2 - B_M ** 2)) / B_M ** 2;
    const a = 1 + (uSq / 16384) * (4096 + uSq * (-768 + uSq * (320 - 175 * uSq)));
    const b = (uSq / 1024) * (256 + uSq * (-128 + uSq * (74 - 47 * uSq)));
    const sine = Math.sin(sigma);
    const inner = Math.cos(sigma) * (2 * cos2m ** 2 - 1) - (b / 6) * cos2m * (4 * sine ** 2 - 3) * (4 * cos2m ** 2 - 3);
    return B_M * a * (sigma - b * sine * (cos2m + (b / 4) * inner));
  };

  /** The way between reduced latitudes as `way` takes them, whose longitudes differ by lambda, 0 to π. */
  const found = (beta1, beta2, lambda) => {
    if (beta1 === -TINY && lambda <= (1 - F) * Math.PI) {
      return { metres: A_M * lambda, alpha1: Math.PI / 2, alpha2: Math.PI / 2 }; // along the equator
    }
    let [low, high] = [0, Math.PI];
    for (let at = 0; at < 60 && low < high; at += 1) {
      const middle = (low + high) / 2;
      if (way(beta1, beta2, middle).lambda < lambda) low = middle;
      else high = middle;
    }
    const alpha1 = (low + high) / 2;
    const last = way(beta1, beta2, alpha1);
    return { metres: metresOf(last), alpha1, alpha2: last.alpha2 };
  };

  const inverse = (lat1, lon1, lat2, lon2) => {
    const turn = lon2 - lon1 - 360 * Math.round((lon2 - lon1) / 360);
    if (lat1 === lat2 && turn === 0) return { metres: 0, bearing: null };
    const reduced = (lat) => Math.atan((1 - F) * Math.tan(Math.max(-90, Math.min(90, lat)) * RAD));
    const isSwapped = Math.abs(lat1) < Math.abs(lat2);
    const [first, second] = isSwapped ? [lat2, lat1] : [lat1, lat2];
    const side = first >= 0 ? -1 : 1; // mirrored, so that the first is south of the equator
    const { metres, alpha1, alpha2 } = found(reduced(side * first) || -TINY, reduced(side * second), Math.abs(turn) * RAD);
    const alpha = isSwapped ? alpha2 : alpha1;
    const swap = isSwapped ? -1 : 1;
    const east = Math.sin(alpha) * swap * Math.sign((turn || 1) * swap);
    const bearing = Math.atan2(east, Math.cos(alpha) * swap * side) / RAD;
    return { metres, bearing: (bearing + 360) % 360 };
  };

  return { inverse };
})();

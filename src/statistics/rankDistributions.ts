// Exact distributions of rank statistics without ties, each as the list of P(statistic = 0), P(= 1), … Built by adding
// positive shares only, so the small probabilities in the tail keep their digits. The library's signed-rank functions
// remember every value ever asked for, which a service that runs for years cannot afford, and it has no other two.

/**
 * Wilcoxon's signed-rank statistic V of n values, 0 to n(n+1)/2: each rank counts with probability one half
 * (Wilcoxon 1945, Biometrics Bulletin 1:80). Cost grows with n³.
 */
export function signedRankDistribution(n: number): Float64Array {
  assertCount('n', n)
  const size = (n * (n + 1)) / 2 + 1
  let shares = new Float64Array(size)
  shares[0] = 1
  for (let rank = 1; rank <= n; rank++) {
    const next = new Float64Array(size)
    for (let v = 0; v < size; v++) next[v] = (shares[v]! + (v >= rank ? shares[v - rank]! : 0)) / 2
    shares = next
  }
  return shares
}

/**
 * Number of pairs x > y among m and n values, 0 to m·n, by the recursion on which sample the greatest value is of
 * (Mann and Whitney 1947, Annals of Mathematical Statistics 18:50). Cost grows with m²n².
 */
export function rankSumDistribution(m: number, n: number): Float64Array {
  assertCount('m', m)
  assertCount('n', n)
  // rows[j] belongs to i values of x and j of y.
  let rows = Array.from({ length: n + 1 }, () => Float64Array.of(1))
  for (let i = 1; i <= m; i++) {
    const next = [Float64Array.of(1)]
    for (let j = 1; j <= n; j++) {
      const shares = new Float64Array(i * j + 1)
      rows[j]!.forEach((share, u) => (shares[u + j]! += (share * i) / (i + j)))
      next[j - 1]!.forEach((share, u) => (shares[u]! += (share * j) / (i + j)))
      next.push(shares)
    }
    rows = next
  }
  return rows[n]!
}

/**
 * Number of concordant pairs among n values in random order, 0 to n(n−1)/2: the value at place i is greater than 0 to
 * i − 1 of those before it, each alike (Kendall 1938, Biometrika 30:81). Cost grows with n⁴.
 */
export function concordanceDistribution(n: number): Float64Array {
  assertCount('n', n)
  let shares = Float64Array.of(1)
  for (let place = 2; place <= n; place++) {
    const next = new Float64Array(shares.length + place - 1)
    shares.forEach((share, pairs) => {
      for (let more = 0; more < place; more++) next[pairs + more]! += share / place
    })
    shares = next
  }
  return shares
}

/** P(statistic ≤ value) of such a list; 0 below it. */
export function lowerTail(shares: Float64Array, value: number): number {
  return shares.subarray(0, Math.max(0, value + 1)).reduce((sum, share) => sum + share, 0)
}

/**
 * Greatest k with P(statistic < k) ≤ p, the rank at which a distribution-free interval of coverage 1 − 2p begins.
 * @returns 0 where even the least and the greatest value hold less than that
 */
export function tailRank(shares: Float64Array, p: number): number {
  let rank = 0
  for (let below = shares[0]!; below <= p; below += shares[rank]!) rank++
  return rank
}

function assertCount(name: string, value: number): void {
  if (!(Number.isInteger(value) && value >= 1))
    throw new RangeError(`${name} must be a whole number above 0, got ${value}`)
}

import { BlockList, isIP } from 'node:net'

type Block = readonly [network: string, bits: number, what: string]

/** Addresses of the plant's own network. IANA special-purpose address registries (RFC 6890) name the RFCs. */
const OWN_NETWORK: readonly Block[] = [
  ['10.0.0.0', 8, 'private, RFC 1918'],
  ['172.16.0.0', 12, 'private, RFC 1918'],
  ['192.168.0.0', 16, 'private, RFC 1918'],
  ['100.64.0.0', 10, "shared behind a carrier's translation, RFC 6598"],
  ['127.0.0.0', 8, 'loopback, RFC 1122'],
  ['169.254.0.0', 16, 'link-local, RFC 3927'],
  ['::1', 128, 'loopback, RFC 4291'],
  ['fc00::', 7, 'unique local, RFC 4193'],
  ['fe80::', 10, 'link-local, RFC 4291'],
]

/** Addresses no receiver of ours can have: the blocks of the same registries that are not globally reachable. */
const NO_RECEIVER: readonly Block[] = [
  ['0.0.0.0', 8, 'this host, RFC 1122'],
  ['192.0.0.0', 24, 'for protocols, RFC 6890'],
  ['192.0.2.0', 24, 'for documentation, RFC 5737'],
  ['192.88.99.0', 24, 'retired 6to4 relays, RFC 7526'],
  ['198.18.0.0', 15, 'for benchmarks, RFC 2544'],
  ['198.51.100.0', 24, 'for documentation, RFC 5737'],
  ['203.0.113.0', 24, 'for documentation, RFC 5737'],
  ['224.0.0.0', 4, 'multicast, RFC 5771'],
  ['240.0.0.0', 4, 'reserved or broadcast, RFC 1112 and RFC 919'],
  ['2001::', 23, 'for protocols, RFC 2928'],
  ['2001:db8::', 32, 'for documentation, RFC 3849'],
  ['2002::', 16, '6to4, RFC 3056'],
  ['3fff::', 20, 'for documentation, RFC 9637'],
]

/** IPv6 has receivers here only: RFC 4291 §2.4, and IPv4 addresses in the two clothes of RFC 4291 §2.5.5.2 and RFC 6052. */
const IPV6_RECEIVERS: readonly Block[] = [
  ['2000::', 3, 'global unicast'],
  ['::ffff:0:0', 96, 'IPv4-mapped'],
  ['64:ff9b::', 96, 'NAT64'],
]

const ownNetwork = OWN_NETWORK.map(compiled)
const noReceiver = NO_RECEIVER.map(compiled)
const ipv6Receivers = IPV6_RECEIVERS.map(compiled)

/**
 * What keeps events from being sent to an address; undefined where nothing does.
 * @param address an IP address, a zone behind `%` allowed
 * @param ownNetworkAllowed loopback, private and link-local addresses are wanted
 */
export function addressProblem(address: string, ownNetworkAllowed: boolean): string | undefined {
  const bare = address.replace(/%.*$/, '')
  const family = isIP(bare)
  if (family === 0) return `${address} is no IP address`
  const type = family === 4 ? 'ipv4' : 'ipv6'
  const within = (blocks: readonly Compiled[]) => blocks.find(block => block.list.check(bare, type))
  const own = within(ownNetwork)
  if (own !== undefined) return ownNetworkAllowed ? undefined : `${address} is ${own.what}`
  const never = within(noReceiver)
  if (never !== undefined) return `${address} is ${never.what}`
  if (family === 6 && within(ipv6Receivers) === undefined) return `${address} is not global unicast, RFC 4291`
  return undefined
}

interface Compiled {
  readonly list: BlockList
  readonly what: string
}

/** The block itself and, of IPv4, its image behind NAT64; IPv4-mapped addresses `BlockList` sees through by itself. */
function compiled([network, bits, what]: Block): Compiled {
  const list = new BlockList()
  if (isIP(network) === 4) {
    list.addSubnet(network, bits, 'ipv4')
    list.addSubnet(`64:ff9b::${network}`, 96 + bits, 'ipv6')
  } else list.addSubnet(network, bits, 'ipv6')
  return { list, what }
}

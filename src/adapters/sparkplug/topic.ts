/** What a message of an edge node says in its topic. Commands and states of host applications are not among them. */
export interface SparkplugTopic {
  readonly kind: (typeof KINDS)[number]
  readonly node: string
  /** Absent for the edge node itself. */
  readonly device?: string
}

const NAMESPACE = 'spBv1.0'
const KINDS = ['NBIRTH', 'NDATA', 'NDEATH', 'DBIRTH', 'DDATA', 'DDEATH'] as const

/** `spBv1.0/group/+/node/#`; without a node every one of the group. */
export function sparkplugFilter(group: string, node: string | undefined): string {
  return `${NAMESPACE}/${group}/+/${node ?? '+'}/#`
}

/**
 * Reads `namespace/group_id/message_type/edge_node_id/[device_id]`: the device stands with D… and never with N…
 * (Sparkplug 3.0.0, tck-id-topic-structure, tck-id-topics-nbirth-topic and their like).
 * @returns undefined for topics outside group and node, and `command` for NCMD and DCMD, which are not for us
 */
export function readTopic(
  topic: string,
  group: string,
  node: string | undefined,
): SparkplugTopic | 'command' | 'malformed' | undefined {
  const [namespace, cameGroup, type, cameNode, device, ...more] = topic.split('/')
  if (namespace !== NAMESPACE || cameGroup !== group || cameNode === undefined) return undefined
  if (node !== undefined && cameNode !== node) return undefined
  if (type === 'NCMD' || type === 'DCMD') return 'command'
  const kind = KINDS.find(each => each === type)
  const ofDevice = kind?.startsWith('D') ?? false
  if (
    kind === undefined ||
    cameNode === '' ||
    more.length > 0 ||
    ofDevice !== (device !== undefined && device !== '')
  ) {
    return 'malformed'
  }
  if (!ofDevice) return device === undefined ? { kind, node: cameNode } : 'malformed'
  return { kind, node: cameNode, device: device! }
}

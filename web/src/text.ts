// SPDX-License-Identifier: Apache-2.0
// Every word on the pages. Another language is another file of this shape.
import { within } from './units';
import type { Answer, Way } from './weigh';

const count = (n: number, one: string, many: string): string => `${n === 1 ? 'One' : String(n)} ${n === 1 ? one : many}`;
const list = (words: readonly string[]): string =>
  words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words[words.length - 1]}`;

/** A dish inside a sentence; a name that begins with two capitals stays. */
const low = (dish: string): string => (/^[A-Z][a-z]/.test(dish) ? dish.charAt(0).toLowerCase() + dish.slice(1) : dish);

const TAPS = {
  stand_in: 'Stand-in ready',
  called: 'Call plate',
  down: 'Plate down',
  have_it: 'We have it',
  gone: 'Plate gone',
};
const WAYS: Record<string, string> = { airy: 'Airy', middle: 'Middle', dark: 'Dark' };

export const text = {
  name: 'platecall',
  wait: 'One moment.',
  list,

  net: {
    lost: 'No connection to the laptop.',
    lostLong:
      'No connection to the laptop. What you see is as it was; stay on this page, it goes on by itself. It cannot be loaded again until the connection is back.',
    waiting: (n: number) => `${count(n, 'change waits', 'changes wait')} on this device and will be sent when it is back.`,
    sending: (n: number) => `${count(n, 'change is', 'changes are')} on the way.`,
    back: 'Connected again. All is sent.',
    unreached: 'The laptop did not answer. Is it on, and is this device in the same network?',
    notJoined: 'This device has not joined, or was sent away.',
    join: 'Join with the PIN',
    refused: 'The laptop did not take this.',
  },

  foot: {
    earlier: 'Earlier',
    next: 'Next',
    contents: 'Contents',
    diary: 'Diary of jobs',
    lengths: 'Lengths in',
    metric: 'centimetres',
    inch: 'inches',
  },

  pages: {
    intake: 'Frames in',
    prep: (shot: string) => `Prep sheet ${shot}`.trim(),
    dials: 'The dials',
    pass: 'The pass',
    crops: 'Same size',
    lamps: 'Lamp sheets',
    cook: 'For the cook',
    client: 'For the client',
    join: 'Devices',
  },

  nowhere: {
    title: 'There is no such page',
    say: 'The address is not one of this booklet.',
  },

  diary: {
    title: 'Diary of jobs',
    empty: 'No job is written down yet. The first line of the diary is the one below.',
    frames: (n: number) => (n === 0 ? 'no frames yet' : n === 1 ? 'one frame' : `${n} frames`),
    newJob: 'Write down a job',
    titleIs: 'What is it?',
    titleHint: 'Six plates for the spring issue',
    clientIs: 'For whom?',
    dateIs: 'When?',
    write: 'Write it down',
    titleMissing: 'Say what the job is: a few words will do.',
  },

  join: {
    title: 'Join the set',
    say: 'The laptop shows a number of four digits. Type it here, and say who holds this device.',
    pin: 'PIN',
    name: 'Whose device is it?',
    nameHint: 'The cook’s phone',
    role: 'It is for',
    photographer: 'the photographer',
    cook: 'the cook',
    client: 'the client',
    join: 'Join',
    pinShape: 'The PIN has four digits.',
    wrong: 'That is not the PIN. Look at the laptop again: it may have a new one.',
    devices: 'Devices',
    show: 'Point a phone’s camera here, or type the address into its browser.',
    code: 'A square code that holds the address',
    address: 'Address',
    sendAway: 'Send away',
    away: (name: string) => `${name} was sent away.`,
    nobody: 'No other device has joined yet.',
    thisOne: 'this one',
    alone: 'The laptop keeps to itself: no other device can reach it. Start it with --lan to let phones and tablets join.',
  },

  subjects: {
    hero: 'hero',
    surface: 'surface',
    greycard: 'grey card',
    sauce: 'sauce',
    rim: 'rim',
    front: 'front edge',
  },
  place: (name: string) => (name === 'here' ? 'where you touched' : `the ${name}`),

  picture: {
    how: 'Touch it, or carry the ring with the arrows and press Enter; Escape takes it away.',
    coming: (ratio: number) => (ratio > 0 ? `The picture is coming: ${Math.round(100 * ratio)} %.` : 'The picture is coming.'),
    none: (why: string) => `There is no picture here. ${why}`,
  },

  intake: {
    steps: [
      'Lay a sheet of A4 and the grey card on the table, beside the stand-in. Lock the camera off.',
      'Manual exposure, raw, one aperture. The shutter may differ from frame to frame.',
      'One frame with the window only. Then one frame for each light, alone. Then the window only once more.',
      'Drop the frames below.',
    ],
    sketch: 'A drawing: on the table a sheet of A4, the stand-in and a grey card, before a camera that is locked off.',
    sketchWords: { sheet: 'A4 sheet', card: 'grey card', standIn: 'stand-in', locked: 'locked off' },
    dropFirst: 'The frames',
    drop: 'Drop frames anywhere on this page, or',
    choose: 'choose files',
    camera: 'take one with this device',
    letGo: 'Let go: the frames go into this job.',
    sending: (name: string, pct: number, size: string) => `${name}: ${pct} % of ${size} is there.`,
    more: (n: number) => `${count(n, 'more waits', 'more wait')}.`,
    there: (n: number) => (n === 1 ? 'The frame is in.' : `All ${n} frames are in.`),
    cut: (name: string) => `${name} was cut off on its way. Nothing of it is used; it will be sent again by itself.`,
    hadIt: (name: string) => `${name} was there already.`,
    understood: 'What was understood',
    summary: (roles: readonly ({ role: string; light?: string | null } | null)[]) => {
      const lights = roles.flatMap((r) => (r && (r.role === 'light' || r.role === 'flash') && r.light ? [r.light] : []));
      const n = (role: string): number => roles.filter((r) => r?.role === role).length;
      const said = [
        n('ambient') > 0 ? count(n('ambient'), 'with the window only', 'with the window only').toLowerCase() : '',
        lights.length > 0 ? `one for ${list([...new Set(lights)])}` : '',
        n('closing') > 0 ? count(n('closing'), 'for the closing check', 'for the closing check').toLowerCase() : '',
        n('take') > 0 ? count(n('take'), 'take', 'takes').toLowerCase() : '',
        n('aside') > 0 ? `${n('aside')} laid aside` : '',
        roles.some((r) => !r) ? `${roles.filter((r) => !r).length} not read yet` : '',
      ].filter((words) => words !== '');
      return `${count(roles.length, 'frame', 'frames')}: ${list(said)}. Is one of them something else? Say so on its line.`;
    },
    roleOf: (name: string) => `What ${name} shows`,
    lightOf: (name: string) => `The light of ${name}`,
    roleUntold: 'not read yet',
    roles: {
      ambient: 'the window only',
      light: 'one light alone',
      flash: 'one flash alone',
      take: 'a take',
      closing: 'the closing check',
      aside: 'laid aside',
    },
    showAll: (n: number) => `Show the ${n} before these`,
    touch: { hero: 'Touch the hero', surface: 'Touch the surface', greycard: 'Touch the grey card', sauce: 'Touch the sauce', rim: 'Touch the rim', front: 'Touch the front edge' },
    touchAgain: { hero: 'Another hero', surface: 'Another surface', greycard: 'Another grey card', sauce: 'Another sauce', rim: 'Another rim', front: 'Another front edge' },
    touchHow: {
      hero: 'The middle of the dish, where it must look right.',
      surface: 'The bare table or board beside it, clear of shadows.',
      greycard: 'The middle of the card. Without one there are no lux, and colours are less sure.',
      sauce: 'Where the sauce shines.',
      rim: 'The rim of the plate.',
      front: 'The edge of the hero that is nearest to the camera.',
    },
    touched: 'All is touched',
    touchedSay: 'Hero, surface and grey card are known.',
    otherFrame: 'Show another frame',
    view: (name: string) => `The frame ${name}`,
    answers: 'The light is measured.',
    toPrep: 'Read it on the prep sheet',
  },

  weigh: {
    working: (doing: string | null, ratio: number | null) =>
      `${doing ? `${doing}` : 'The light is being measured'}${ratio !== null && ratio > 0 ? `, ${Math.round(100 * ratio)} % done` : ''}.`,
    mired: (mired: number | null, tolerance: number | null) =>
      mired === null ? 'not known' : `${within(Math.abs(mired), tolerance, 'mired')} ${mired >= 0 ? 'warmer' : 'cooler'}`,
    duv: (duv: number, tolerance: number | null) =>
      `${Math.abs(duv).toFixed(4)}${tolerance !== null ? ` ± ${tolerance.toFixed(4)}` : ''} Duv ${duv >= 0 ? 'greener' : 'pinker'}`,
    sentences: (a: Answer): string[] => {
      const said: string[] = [];
      if (a.key !== null) {
        said.push(`${a.key} is the key: ${within(a.key_to_fill_stops, a.key_to_fill_stops_tolerance, 'stops', true)} over everything else at the hero.`);
      }
      if (a.hero_over_surface_picture_stops !== null) {
        said.push(`The hero is ${within(a.hero_over_surface_picture_stops, a.hero_over_surface_picture_stops_tolerance, 'stops', true)} over the surface in the picture, ${within(a.hero_over_surface_light_stops, a.hero_over_surface_light_stops_tolerance, 'stops', true)} in light.`);
      }
      if (a.floor_stops !== null && a.key !== null) {
        const flash = a.flash_floor_stops === null ? '' : ` Flash would give ${within(a.flash_floor_stops, a.flash_floor_stops_tolerance, '')}.`;
        said.push(`The darkest surface you can get with ${a.key} at full is ${within(a.floor_stops, a.floor_stops_tolerance, 'stops')} of light below the hero.${flash}`);
      }
      if (a.greycard_lx !== null) {
        const window = a.ambient_lx === null ? '' : `, of which the window gives ${within(a.ambient_lx, a.ambient_lx_tolerance, 'lx')}`;
        said.push(`On the grey card ${within(a.greycard_lx, a.greycard_lx_tolerance, 'lx')}${window}.`);
      }
      said.push(
        a.second_shadow_light !== null && a.second_shadow_stops !== null
          ? `${a.second_shadow_light} throws a second shadow, ${within(a.second_shadow_stops, a.second_shadow_stops_tolerance, 'stops')} deep.`
          : 'There is no second shadow worth the name.',
      );
      return said;
    },
  },

  prep: {
    under: (look: string, angle: number | null) =>
      [look, angle === null ? '' : angle >= 85 ? 'from straight above' : `from ${angle} degrees`].filter((w) => w !== '').join(', '),
    serves: 'Serves',
    servesNone: 'No outlet is named for this shot.',
    pixels: (w: number, h: number) => `${w} × ${h} pixels`,
    ingredients: 'Ingredients',
    lights: 'The lights',
    light: 'light',
    dial: 'dial',
    onHero: 'on the hero',
    onSurface: 'on the surface',
    colour: 'against the window',
    ambient: 'window',
    toFrames: 'Bring the frames in',
    toTouches: 'Go on there',
    section: 'A side section through hero and camera',
    sectionSay: 'From the side: heights in centimetres.',
    readings: 'Readings',
    method: 'Method',
    steps: [
      'Lay down the sheet and the grey card; one frame with the window, one for each light, the window again.',
      'Touch the hero once and the surface once.',
      'Set the dials.',
      'One more frame at these dials, as the closing check.',
      'Take the stand-in away and call the plate.',
    ],
    doIt: ['Frames in', 'Touch them', 'To the dials', 'Bring it in', 'To the pass'],
    done: 'Done.',
    dialsAre: (line: string) => `${line}.`,
    keeps: 'Keeps',
    life: (time: string) => `About ${time} on set, by the taps so far and the class of the dish.`,
    lifeUnknown: 'How long the plate keeps is not known before its class is said, or it has been down once.',
    caution: 'Weigh down every stand and arm that reaches over people or food, and mind leads near water. Local rules and the maker’s instructions come before anything printed here.',
    anotherShot: 'Write down another shot',
  },

  oneLight: {
    title: 'One light at a time',
    show: (name: string) => `show ${name} alone`,
    showAmbient: 'show the window alone',
    showAll: 'show all of them',
    label: (name: string | null) => (name === null ? 'The table under the window alone' : `The table under ${name} alone`),
  },

  closing: {
    title: 'Closing check',
    none: 'Set the dials, take one frame, and bring it in as the closing check: what was foretold will stand here beside what it shows.',
    at: 'at',
    foretold: 'foretold',
    actual: 'actual',
    clipped: 'cannot be read',
    within: (half: string, most: string) => `Half of the picture lies within ${half} EV of what was foretold, nine tenths within ${most}.`,
    off: (name: string, ev: string) => `${name} is ${ev} EV off.`,
    exposure: (ev: string) => `The whole frame is ${ev} EV off in exposure; that is taken off above.`,
    residual: 'What differs, in grey: mid grey is as foretold, lighter is more light than foretold.',
    residualSay: 'Mid grey is as foretold; lighter is more light than foretold, darker less. Half way to white is one stop.',
  },

  dials: {
    title: 'The dials',
    lamp: 'lamp',
    is: 'is',
    set: 'set',
    areSet: 'They are set',
    leave: 'leave them as they are',
    wrongHere: 'What is wrong here?',
    touch: 'Touch the picture where it is wrong.',
    sayWord: 'Now say what it should be.',
    words: { darker: 'darker', lighter: 'lighter', warmer: 'warmer', cooler: 'cooler' },
    why: (word: string) => `${word} where it was touched`,
    pictureLater: 'The picture of these dials comes once they are set.',
    pictureNow: 'The table at the dials in the column “set”',
    also: (place: string, ev: string) => `${place} ${ev} EV`,
    alsoAll: (changes: readonly string[]) => `With it: ${list(changes)}.`,
    alsoNothing: 'Nothing else changes by more than a twentieth of a stop.',
  },

  ways: {
    title: 'Three ways',
    name: (name: string) => WAYS[name] ?? name,
    show: (name: string) => `show ${name}`,
    take: 'Use these numbers',
    picture: (name: string) => `The table set ${name}`,
    gives: (way: Way) =>
      `Surface ${within(way.surface_under_hero_light_stops, null, 'stops')} under the hero in light, key ${within(way.key_to_fill_stops, null, 'stops', true)} over the rest; exposure ${within(way.exposure_change_ev, null, 'EV', true)}.`,
  },

  pass: {
    plate: 'Plate',
    noPlate: 'No plate',
    nextIs: (dish: string) => `Next: ${dish}`,
    over: 'over',
    lastFifth: 'last fifth',
    since: {
      stand_in: 'since it stood ready',
      called: 'since the call',
      down: 'since it came down',
      have_it: 'since we have it',
      gone: 'since it went',
    },
    noFrame: 'No frame yet. The next one that comes in is shown here, pixel for pixel.',
    noHero: 'This frame cannot be shown pixel for pixel: touch the hero first.',
    hero: (name: string) => `The hero of ${name}, pixel for pixel`,
    looking: 'Looking at it.',
    tone: { shoot_on: 'Shoot on', mend: 'Mend.', wait: 'Wait.' },
    pad: 'The plate',
    taps: TAPS,
    nothingToDo: 'Nothing to tap now',
    outlet: (name: string) => `Show ${name}`,
    nextOutlet: 'Next outlet',
    back: 'Back',
    takeBack: 'Take back',
    tapped: (word: string, at: string) => `${word}, ${at}`,
  },

  cook: {
    now: 'now',
    next: 'next',
    noShots: 'No dishes are written down yet.',
    rest: 'Nothing on set.',
    at: {
      stand_in: (dish: string) => `Stand-in on set for the ${low(dish)}.`,
      called: (dish: string) => `Bring the ${low(dish)}.`,
      down: (dish: string) => `The ${low(dish)} is on set.`,
      have_it: (dish: string) => `They have the ${low(dish)}. It may go.`,
      gone: (dish: string) => `The ${low(dish)} is gone.`,
    },
    fireNow: (dish: string) => `Fire the ${low(dish)} now.`,
    fireIn: (dish: string, t: string) => `Fire the ${low(dish)} in ${t}.`,
    after: (dish: string) => `Then the ${low(dish)}.`,
    standBy: (dish: string) => `Stand by for the ${low(dish)}.`,
    noMore: 'No more dishes.',
  },

  client: {
    none: 'There is no take to look at yet. The next one will open here.',
    whole: 'the whole frame',
    frame: (n: number, of: number) => `Frame ${n} of ${of}`,
    earlier: 'earlier',
    next: 'next',
    why: 'Why?',
    said: (yes: boolean) => (yes ? 'You said: this one. Why?' : 'You said: not this. Why?'),
    this: 'This one',
    notThis: 'Not this',
  },

  crops: {
    none: 'No outlet is written down yet: a page, a cover, a screen. Each is drawn here at one scale, with the frame in it.',
    noFrame: 'No frame has come in yet, so the shapes stand empty.',
    of: (name: string) => `Cut from ${name}.`,
    screens: 'Screens',
    cut: (frame: string, outlet: string) => `${frame} cut for ${outlet}`,
    drawn: (outlet: string) => `${outlet} with what the frame gives it`,
    bleed: (size: string) => `bleed ${size}`,
    fold: (size: string) => `fold kept clear by ${size}`,
    type: (pct: number) => `${pct} % at the top for type`,
    px: (n: number) => `${n} pixels`,
  },

  newShot: {
    title: 'Write down a shot',
    dish: 'The dish',
    dishHint: 'Smoked beetroot broth, black bowl',
    look: 'The look',
    looks: { airy: 'airy', middle: 'middle', dark: 'dark' },
    angle: 'Camera looks down by, in degrees',
    class: 'What spoils first?',
    classNone: 'not said',
    classes: { leaf: 'leaf', 'clear soup': 'clear soup', sauce: 'sauce', foam: 'foam', ice: 'ice', bake: 'bake', glass: 'glass' },
    outlets: 'It serves',
    write: 'Write it down',
    dishMissing: 'Say what the dish is.',
    angleWrong: 'The angle is a number from 0 (level) to 90 (straight down).',
  },

  newOutlet: {
    title: 'Write down an outlet',
    name: 'Where will it be seen?',
    nameHint: 'Cover',
    width: 'Width',
    height: 'Height',
    unit: 'in',
    mm: 'millimetres',
    px: 'pixels',
    bleed: 'Bleed, mm',
    type: 'Clear for type at the top, %',
    fold: 'A fold runs down the middle',
    write: 'Write it down',
    nameMissing: 'Give it a name, so that it can be told from the others.',
    sizeWrong: 'Width and height are numbers above zero.',
  },

  lamps: {
    say: 'What the frames say of each lamp. A sheet of its own, dial by dial, is measured with platecall lamp.',
    kind: 'light',
    flash: 'flash',
    steady: 'steady',
    dial: 'dial',
    dialIs: (pct: string, tolerance: number) => `${pct} %, light known to ${tolerance} %`,
    colour: 'against the window',
    tint: 'tint',
    card: 'on the grey card',
    hero: 'of all light on the hero',
    surface: 'of all light on the surface',
    clipped: 'of its frame is clipped',
    caution: 'Hot lamps and paper do not go together; heed the maker’s distances.',
  },
};

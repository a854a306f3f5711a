// Light, dark or sunlight: as the device says until the person chooses.
const KEY = 'probewise.look';
const LOOKS = ['light', 'dark', 'sunlight'];

const asDevice = () => (matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light');

export const look = () => document.documentElement.dataset.look;

export function applyLook() {
  const chosen = localStorage.getItem(KEY);
  document.documentElement.dataset.look = LOOKS.includes(chosen) ? chosen : asDevice();
}

export function nextLook() {
  const next = LOOKS[(LOOKS.indexOf(look()) + 1) % LOOKS.length];
  localStorage.setItem(KEY, next);
  applyLook();
}

// The way back to the list of jobs, as it was last looked at, with what was searched.
const LIST = 'probewise.list';

export const list = () => sessionStorage.getItem(LIST) ?? '/';
export const rememberList = (address) => sessionStorage.setItem(LIST, address);
